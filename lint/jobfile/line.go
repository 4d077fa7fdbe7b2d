package jobfile

import "fmt"

// ReadLine parses one line of a file that holds a JSON document on every line. Positions are those in the whole file, so
// line is the 1-based number of this one. The data must not be changed afterwards. Every error is a Problems.
func ReadLine(file string, line int, data []byte) (*Node, error) {
	return new(Memory).ReadLine(file, line, data)
}

// ReadLine does what the function ReadLine does, into this memory.
func (m *Memory) ReadLine(file string, line int, data []byte) (*Node, error) {
	m.begin()
	if len(data) > MaxFileBytes {
		return nil, Problems{{File: file, Line: line, Col: 1, Message: fmt.Sprintf("the line is longer than %d bytes", MaxFileBytes)}}
	}
	src := &source{file: file, data: data, before: line - 1}
	if p := src.scan(); p != nil {
		return nil, Problems{*p}
	}
	return readJSON(src, m)
}
