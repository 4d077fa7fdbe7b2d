package jobfile

import (
	"reflect"

	"wetrule/lint/spare"
)

// Memory is what one file after another is read into: its tree, its job, and the lists and numbers that they hold. Released between them, it
// spares a stream of jobs most of what reading allocates; without that, each file has memory of its own, as with Read and Load. Texts
// are never a part of it, so that they stay good for ever. A Memory is for one goroutine at a time; its zero value is ready.
type Memory struct {
	inUse bool // something has been read that is not released
	again bool // it has been released before

	nodes   slab[Node]
	inners  slab[inner]
	members slab[Member]
	items   slab[*Node]

	// What the fields of a job point to.
	files  slab[File]
	jobs   slab[Job]
	floats slab[float64]
	bools  slab[bool]
	texts  slab[string]
	pairs  slab[[2]float64]
	others []others // by number of the type

	// What is needed during reading alone. Most maps of a file have the keys of another one in the same order, so that the next key can be expected.
	next        *[keysInSet]keyNum // which key has come behind a key of the file; behind 0, at the beginning of a map
	openMembers []Member           // of maps that are not finished
	openItems   []*Node            // of lists that are not finished
	path        []step             // down to the node that is decoded
	ids         [declared]map[string]*Node
}

// Limits of what a Memory keeps when it is released. Jobs beyond them are rare.
const (
	keptBytes  = 1 << 20 // of each slab
	keptValues = 1 << 12 // of each list and map
)

// begin makes the memory ready for a file. What has been read before and was not released is left to those who hold it.
func (m *Memory) begin() {
	if m.inUse {
		*m = Memory{}
	}
	m.inUse = true
}

// Release gives back all that has been read, for what is read next. Nothing of the files, trees and jobs that came from this
// memory may be used afterwards, except texts.
func (m *Memory) Release() {
	m.inUse, m.again = false, true
	m.nodes.release()
	m.inners.release()
	m.members.release()
	m.items.release()
	m.files.release()
	m.jobs.release()
	m.floats.release()
	m.bools.release()
	m.texts.release()
	m.pairs.release()
	for i := range m.others {
		m.others[i].release()
	}
	m.openMembers = emptied(m.openMembers)
	m.openItems = emptied(m.openItems)
	m.path = emptied(m.path)
	for i, ids := range m.ids {
		if len(ids) > keptValues {
			m.ids[i] = nil
		}
		clear(ids)
	}
}

// emptied is a list to be used again, which keeps nothing alive.
func emptied[T any](list []T) []T {
	if cap(list) > keptValues {
		return nil
	}
	clear(list[:cap(list)])
	return list[:0]
}

// slab cuts lists of zero values from few large ones.
type slab[T any] struct {
	room  spare.Room[T]
	chunk []T // what is being cut
	used  int // of chunk
	least int // how long a new chunk is at least
}

// cut gives a list of a length, never nil.
func (s *slab[T]) cut(n int) []T {
	if s.used+n > len(s.chunk) || s.chunk == nil {
		s.grow(n)
	}
	from := s.used
	s.used += n
	return s.chunk[from:s.used:s.used]
}

// one gives a pointer to a value.
func (s *slab[T]) one() *T {
	if s.used >= len(s.chunk) {
		s.grow(1)
	}
	s.used++
	return &s.chunk[s.used-1]
}

func (s *slab[T]) grow(n int) { s.chunk, s.used = s.room.Cut(max(n, s.least)), 0 }

func (s *slab[T]) release() {
	s.room.Clear(keptBytes / int(reflect.TypeFor[T]().Size()))
	s.chunk, s.used = nil, 0
}

// others is a slab of values of a type that only reflection knows. Only a memory that has been released before has them.
type others struct {
	chunk  reflect.Value // a list
	length int           // of chunk
	used   int           // of chunk
	before int           // how long the chunks before it are
	kept   reflect.Value // the first chunk, used again after each release
}

// slabOf gives the slab of values of a type.
func (m *Memory) slabOf(info *typeInfo) *others {
	for len(m.others) <= info.number {
		m.others = append(m.others, others{})
	}
	return &m.others[info.number]
}

// cut gives a list of a length.
func (s *others) cut(n int, info *typeInfo) reflect.Value {
	from := s.take(n, info)
	return s.chunk.Slice3(from, s.used, s.used)
}

// one gives a pointer to a value.
func (s *others) one(info *typeInfo) reflect.Value {
	return s.chunk.Index(s.take(1, info)).Addr()
}

func (s *others) take(n int, info *typeInfo) (from int) {
	if s.used+n > s.length || !s.chunk.IsValid() {
		s.before += s.length
		s.length, s.used = max(n, s.before), 0
		s.chunk = reflect.MakeSlice(reflect.SliceOf(info.typ), s.length, s.length)
	}
	s.used += n
	return s.used - n
}

func (s *others) release() {
	kept := 0
	if s.kept.IsValid() {
		kept = s.kept.Len()
	}
	switch need := s.before + s.used; {
	case need <= kept:
		for i := range need {
			s.kept.Index(i).SetZero()
		}
	case need*int(s.chunk.Type().Elem().Size()) <= keptBytes:
		kept = need + need/8
		s.kept = reflect.MakeSlice(s.chunk.Type(), kept, kept)
	default:
		kept, s.kept = 0, reflect.Value{}
	}
	s.chunk, s.length, s.used, s.before = s.kept, kept, 0, 0
}
