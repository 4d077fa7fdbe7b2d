package judge

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/ed25519"
	"crypto/elliptic"
	"crypto/sha256"
	"crypto/x509"
	"encoding/asn1"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"encoding/pem"
	"errors"
	"fmt"
	"math/big"
	"regexp"

	"github.com/open-policy-agent/opa/v1/bundle"
)

// The algorithms by which rulebooks are signed: RFC 7518 section 3.4, and RFC 8037 section 3.1 with Ed25519.
//
// The policy engine signs and verifies by both. Its server, however, takes no EdDSA key in its configuration (OPA 1.22), so
// a rulebook that a policy server is to verify is signed by ES256.
const (
	ES256 = "ES256"
	EdDSA = "EdDSA"
)

// MaxKeyBytes bounds the size of a file with a key.
const MaxKeyBytes = 64 << 10

// PrivateKey is a key that signs.
type PrivateKey struct {
	Algorithm string
	ID        string
	text      string // PKCS #8 in PEM
}

// PublicKey is a key that is trusted.
type PublicKey struct {
	File      string
	Algorithm string
	text      string // PKIX in PEM
}

var keyID = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9._-]{0,99}$`)

// ReadPrivateKey reads a private key in PEM: P-256 (SEC 1 or PKCS #8) for ES256, or Ed25519 (PKCS #8) for EdDSA. An empty id stands for the first 16 hexadecimal
// digits of the SHA-256 of the public key.
func ReadPrivateKey(file string, data []byte, id string) (*PrivateKey, error) {
	if id != "" && !keyID.MatchString(id) {
		return nil, fmt.Errorf("the key id %q is not made of letters, digits, dots, hyphens and underscores (at most 100)", id)
	}
	b, err := block(file, data)
	if err != nil {
		return nil, err
	}
	var key any
	switch b.Type {
	case "EC PRIVATE KEY":
		key, err = x509.ParseECPrivateKey(b.Bytes)
	case "PRIVATE KEY":
		key, err = x509.ParsePKCS8PrivateKey(b.Bytes)
	case "PUBLIC KEY":
		return nil, fmt.Errorf("%s holds a public key; a rulebook is signed with the private key", file)
	default:
		return nil, fmt.Errorf("%s holds %q; a key that signs is a PRIVATE KEY or an EC PRIVATE KEY", file, b.Type)
	}
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read as a private key: %w", file, err)
	}
	signer, ok := key.(crypto.Signer)
	if !ok {
		return nil, fmt.Errorf("%s holds a key that cannot sign; make one on the curve P-256 (ES256) or an Ed25519 key (EdDSA)", file)
	}
	alg, err := algorithm(file, signer.Public())
	if err != nil {
		return nil, err
	}
	if id == "" {
		public, err := x509.MarshalPKIXPublicKey(signer.Public())
		if err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		sum := sha256.Sum256(public)
		id = hex.EncodeToString(sum[:8])
	}
	plain, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return &PrivateKey{Algorithm: alg, ID: id, text: string(pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: plain}))}, nil
}

// ReadPublicKey reads a public key in PEM (PKIX): P-256 for ES256, or Ed25519 for EdDSA.
func ReadPublicKey(file string, data []byte) (*PublicKey, error) {
	b, err := block(file, data)
	if err != nil {
		return nil, err
	}
	switch b.Type {
	case "PUBLIC KEY":
	case "PRIVATE KEY", "EC PRIVATE KEY", "RSA PRIVATE KEY":
		return nil, fmt.Errorf("%s holds a private key; trust the public key and keep the private one to yourself", file)
	default:
		return nil, fmt.Errorf("%s holds %q; a trusted key is a PUBLIC KEY", file, b.Type)
	}
	key, err := x509.ParsePKIXPublicKey(b.Bytes)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read as a public key: %w", file, err)
	}
	alg, err := algorithm(file, key)
	if err != nil {
		return nil, err
	}
	return &PublicKey{File: file, Algorithm: alg, text: string(pem.EncodeToMemory(b))}, nil
}

// block returns the block of a PEM file that holds the key. The parameters of a curve, which some programs write before the key, are passed over.
func block(file string, data []byte) (*pem.Block, error) {
	if len(data) > MaxKeyBytes {
		return nil, fmt.Errorf("%s is too large for a key", file)
	}
	for {
		b, rest := pem.Decode(data)
		switch {
		case b == nil:
			return nil, fmt.Errorf("%s holds no key in PEM (-----BEGIN ...)", file)
		case b.Type == "EC PARAMETERS":
			data = rest
			continue
		case b.Type == "ENCRYPTED PRIVATE KEY" || b.Headers["Proc-Type"] != "":
			return nil, fmt.Errorf("%s is locked with a passphrase; unlock it into a file of its own first", file)
		}
		b.Headers = nil
		return b, nil
	}
}

func algorithm(file string, public crypto.PublicKey) (string, error) {
	switch k := public.(type) {
	case *ecdsa.PublicKey:
		if k.Curve == elliptic.P256() {
			return ES256, nil
		}
		return "", fmt.Errorf("%s holds a key on the curve %s; rulebooks are signed on P-256 (ES256) or with Ed25519 (EdDSA)", file, k.Curve.Params().Name)
	case ed25519.PublicKey:
		return EdDSA, nil
	}
	return "", fmt.Errorf("%s holds a key of another sort (%T); rulebooks are signed on P-256 (ES256) or with Ed25519 (EdDSA)", file, public)
}

// signerID names the signer below to the policy engine.
const signerID = "wetrule"

func init() {
	if err := bundle.RegisterSigner(signerID, steadySigner{}); err != nil {
		panic(err) // only when the name is reserved
	}
}

// steadySigner makes the token that the policy engine's own signer makes, with one difference: the same key and files give the same
// bytes, for ES256 by RFC 6979. The policy engine's own verifier verifies it.
type steadySigner struct{}

// GenerateSignedToken makes a JWS in its compact form (RFC 7515 section 7.1).
func (steadySigner) GenerateSignedToken(files []bundle.FileInfo, sc *bundle.SigningConfig, id string) (string, error) {
	key, err := sc.GetPrivateKey()
	if err != nil {
		return "", err
	}
	header, err := json.Marshal(map[string]string{"alg": sc.Algorithm, "kid": id, "typ": "JWT"})
	if err != nil {
		return "", err
	}
	payload, err := json.Marshal(map[string]any{"files": files, "keyid": id})
	if err != nil {
		return "", err
	}
	text := base64.RawURLEncoding.EncodeToString(header) + "." + base64.RawURLEncoding.EncodeToString(payload)
	var signature []byte
	switch k := key.(type) {
	case *ecdsa.PrivateKey:
		signature, err = signES256(k, []byte(text))
	case ed25519.PrivateKey:
		signature = ed25519.Sign(k, []byte(text))
	default:
		err = errors.New("the key cannot sign")
	}
	if err != nil {
		return "", err
	}
	return text + "." + base64.RawURLEncoding.EncodeToString(signature), nil
}

// signES256 signs by ECDSA on P-256 with SHA-256 (RFC 7518 section 3.4), with the number of RFC 6979 in place of chance.
func signES256(k *ecdsa.PrivateKey, text []byte) ([]byte, error) {
	sum := sha256.Sum256(text)
	der, err := k.Sign(nil, sum[:], crypto.SHA256) // without a source of chance it signs by RFC 6979
	if err != nil {
		return nil, err
	}
	var rs struct{ R, S *big.Int }
	if _, err := asn1.Unmarshal(der, &rs); err != nil {
		return nil, err
	}
	out := make([]byte, 64)
	rs.R.FillBytes(out[:32])
	rs.S.FillBytes(out[32:])
	return out, nil
}
