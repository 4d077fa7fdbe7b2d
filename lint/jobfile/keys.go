package jobfile

import (
	"reflect"
	"strings"
	"sync"
)

// keyTable finds what belongs to a key. Key tables are made once and asked for every key of every job, so it pays that they look at
// four characters and compare the one key that has them, instead of hashing the whole key.
type keyTable[T any] struct {
	slots   []uint16 // 1 + index of an entry, 0 for an empty slot; a power of two of them
	entries []keyEntry[T]

	numbers []*T // the values of entries by keyNum; numbered adds them
}

type keyEntry[T any] struct {
	key   string
	value T
}

func newKeyTable[T any](m map[string]T) *keyTable[T] {
	t := &keyTable[T]{entries: make([]keyEntry[T], 0, len(m))}
	size := 4
	for size < 4*len(m) {
		size *= 2
	}
	if len(m) >= 1<<16-1 {
		panic("too many keys for a table") // a file holds less
	}
	t.slots = make([]uint16, size)
	for _, key := range sortedKeys(m) {
		t.entries = append(t.entries, keyEntry[T]{key, m[key]})
		i := keyHash(key) & (size - 1)
		for t.slots[i] != 0 {
			i = (i + 1) & (size - 1)
		}
		t.slots[i] = uint16(len(t.entries))
	}
	return t
}

// numbered makes a table ready for of.
func (t *keyTable[T]) numbered() *keyTable[T] {
	known := jobKeys()
	t.numbers = make([]*T, len(known.names))
	for i := range t.entries {
		if k := known.find(t.entries[i].key); k != 0 {
			t.numbers[k] = &t.entries[i].value
		}
	}
	return t
}

// of gives what belongs to the key of a member, or nil.
func (t *keyTable[T]) of(m *Member) *T {
	if t == nil {
		return nil
	}
	if m.key != 0 {
		return t.numbers[m.key]
	}
	return t.find(m.Key)
}

// find gives what belongs to a key, or nil. A nil table has no keys.
func (t *keyTable[T]) find(key string) *T {
	if t == nil {
		return nil
	}
	last := len(t.slots) - 1
	for i := keyHash(key) & last; ; i = (i + 1) & last {
		n := t.slots[i]
		if n == 0 {
			return nil
		}
		if e := &t.entries[n-1]; e.key == key {
			return &e.value
		}
	}
}

func keyHash(key string) int {
	n := len(key)
	if n == 0 {
		return 0
	}
	h := uint32(n)*0x9e3779b1 + uint32(key[0])*0x85ebca6b + uint32(key[n/2])*0xc2b2ae35 + uint32(key[n-1])*0x27d4eb2f + uint32(key[n/4])*0x165667b1
	return int(h >> 12)
}

// keyNum is the number of a key of the job format, 0 for any other key.
type keyNum uint16

// keyList numbers the keys of the job format. Whoever asks for the key of every value of a job so compares numbers and not texts.
type keyList struct {
	names  []string // by number
	plain  []string // the same with their colons, as in YAML; what is no key of the job format stands in no file
	quoted []string // likewise, as in JSON
	slots  []keyNum // a power of two of them, 0 for an empty slot
}

// jobKeys are the keys that a Job has fields for, at any depth.
var jobKeys = sync.OnceValue(func() *keyList {
	tags := map[string]bool{}
	seen := map[reflect.Type]bool{}
	var walk func(t reflect.Type)
	walk = func(t reflect.Type) {
		switch t.Kind() {
		case reflect.Pointer, reflect.Slice, reflect.Map:
			walk(t.Elem())
		case reflect.Struct:
			if seen[t] || t == nodeType.Elem() {
				return
			}
			seen[t] = true
			for i := range t.NumField() {
				f := t.Field(i)
				if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name != "" && name != "-" {
					tags[name] = true
				}
				walk(f.Type)
			}
		}
	}
	walk(reflect.TypeFor[Job]())
	k := &keyList{names: append([]string{""}, sortedKeys(tags)...)}
	k.plain, k.quoted = []string{"\x00"}, []string{"\x00"}
	for _, name := range k.names[1:] {
		k.plain = append(k.plain, name+":")
		k.quoted = append(k.quoted, `"`+name+`":`)
	}
	size := 4
	for size < 4*len(k.names) {
		size *= 2
	}
	k.slots = make([]keyNum, size)
	if len(k.names) > keysInSet {
		panic("too many keys for a set")
	}
	for n, name := range k.names[1:] {
		i := keyHash(name) & (size - 1)
		for k.slots[i] != 0 {
			i = (i + 1) & (size - 1)
		}
		k.slots[i] = keyNum(n + 1)
	}
	return k
})

// Key gives a key of the job format as the trees of jobs have it, so that comparing the two need not look at their letters. Any other key is given
// as it is.
func Key(name string) string {
	k := jobKeys()
	if n := k.find(name); n != 0 {
		return k.names[n]
	}
	return name
}

// find gives the number of a key.
func (k *keyList) find(key string) keyNum {
	last := len(k.slots) - 1
	for i := keyHash(key) & last; ; i = (i + 1) & last {
		n := k.slots[i]
		if n == 0 || k.names[n] == key {
			return n
		}
	}
}

// keySet is a set of numbers of keys.
type keySet [keysInSet / 64]uint64

const keysInSet = 512

// add adds a key. It tells whether the set has held it before.
func (s *keySet) add(k keyNum) bool {
	word, bit := &s[k/64%(keysInSet/64)], uint64(1)<<(k%64)
	had := *word&bit != 0
	*word |= bit
	return had
}
