// Package spare keeps the memory that one job took for the next one.
package spare

// Room is a place for values of one job. The zero Room has none yet, so that all of them are allocated.
type Room[T any] struct {
	all, left []T
	taken     int // since it was cleared
}

// Cut gives n zero values that nobody else has until the room is cleared.
func (r *Room[T]) Cut(n int) []T {
	r.taken += n
	if n > len(r.left) {
		return make([]T, n)
	}
	part := r.left[:n:n]
	r.left = r.left[n:]
	return part
}

// Clear takes back all that has been cut. Nobody may look at it any more. A room that was too small is made larger, unless
// it would keep more than the most values.
func (r *Room[T]) Clear(most int) {
	if need := r.taken + r.taken/8; r.taken > len(r.all) && need <= most {
		r.all = make([]T, need)
	} else {
		clear(r.all[:len(r.all)-len(r.left)]) // so that nothing of the job is held by it
	}
	r.left, r.taken = r.all, 0
}
