package rulebook

// Sealed says what a sealed rulebook is: one that is packed into a single file, with the policies and the data by which a
// policy server answers as wetrule does.
type Sealed struct {
	Manifest
	File     string       `json:"file"`
	Revision string       `json:"revision"`     // SHA-256 of all that is packed, in hexadecimal digits
	On       string       `json:"on,omitempty"` // the day whose edition the data hold; empty stands for the latest
	Layers   []Layer      `json:"layers"`       // what was laid over one another for the data, from the bottom up
	Rules    int          `json:"rules"`        // how many rules the data hold
	Signed   Signature    `json:"signature"`
	Files    []SealedFile `json:"files"` // in order of name
}

// Layer names a rulebook and its edition.
type Layer struct {
	Rulebook string `json:"rulebook"`
	Edition  string `json:"edition"`
}

// SealedFile is one file of a sealed rulebook.
type SealedFile struct {
	Name   string `json:"name"`
	Bytes  int    `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// SignatureState says what is known of the signature of a sealed rulebook.
type SignatureState string

// The states of a signature.
const (
	Unsigned   SignatureState = "unsigned"
	Unverified SignatureState = "not verified" // there is one, and no key was given to hold it against
	Verified   SignatureState = "verified"
)

// Signature is the signature of a sealed rulebook. Algorithm and key id are what the file says of itself as long as it is not verified.
type Signature struct {
	State     SignatureState `json:"state"`
	Algorithm string         `json:"algorithm,omitempty"`
	KeyID     string         `json:"key_id,omitempty"`
	By        string         `json:"by,omitempty"` // the file of the public key that verified it
}
