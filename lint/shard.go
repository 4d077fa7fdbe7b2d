package lint

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"strconv"
	"strings"
)

// Shard is one part of a batch that is split over several runs without anybody who hands out the work: part I of N,
// from 1. A job belongs to a part by its bytes alone, so each job is in exactly one part, whatever its path, the machine or the
// order. The zero Shard holds every job.
type Shard struct{ I, N int }

// maxShards bounds the number of parts; nobody has more machines.
const maxShards = 1_000_000

// ParseShard reads a part in the form "2/8".
func ParseShard(s string) (Shard, error) {
	i, n, ok := strings.Cut(s, "/")
	part, err1 := strconv.Atoi(i)
	of, err2 := strconv.Atoi(n)
	switch {
	case !ok || err1 != nil || err2 != nil:
		return Shard{}, fmt.Errorf("a shard is written as 2/8, part 2 of 8, not %q", s)
	case of < 1 || of > maxShards:
		return Shard{}, fmt.Errorf("shard %s: the number of parts is 1 to %d", s, maxShards)
	case part < 1 || part > of:
		return Shard{}, fmt.Errorf("shard %s: the parts are numbered 1 to %d", s, of)
	}
	return Shard{part, of}, nil
}

// String writes the part as it is read.
func (s Shard) String() string { return fmt.Sprintf("%d/%d", s.I, s.N) }

// Holds says whether a job belongs to the part: by the first eight bytes of its SHA-256 (FIPS 180-4), read as a number with the
// highest byte first, modulo N.
func (s Shard) Holds(job []byte) bool {
	if s.N <= 1 {
		return true
	}
	return s.holds(sha256.Sum256(job))
}

func (s Shard) holds(sum [sha256.Size]byte) bool {
	return s.N <= 1 || binary.BigEndian.Uint64(sum[:8])%uint64(s.N) == uint64(s.I-1)
}
