package jobfile

// keyTable finds what belongs to a key. Key tables are made once and asked for every key of every job, so it pays that they look at
// four characters and compare the one key that has them, instead of hashing the whole key.
type keyTable[T any] struct {
	slots   []uint16 // 1 + index of an entry, 0 for an empty slot; a power of two of them
	entries []keyEntry[T]
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
