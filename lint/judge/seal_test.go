package judge

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"context"
	"crypto"
	"crypto/ecdsa"
	"crypto/ed25519"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/rsa"
	"crypto/sha256"
	"crypto/x509"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"io/fs"
	"maps"
	"math/big"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/open-policy-agent/opa/v1/ast"
	"github.com/open-policy-agent/opa/v1/bundle"
	"github.com/open-policy-agent/opa/v1/rego"
	"github.com/open-policy-agent/opa/v1/topdown"
	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/policies"
)

// keyPair writes a private key and its public key in PEM.
func keyPair(t testing.TB, private any) (key, public []byte) {
	t.Helper()
	der, err := x509.MarshalPKCS8PrivateKey(private)
	require.NoError(t, err)
	pub, err := x509.MarshalPKIXPublicKey(private.(crypto.Signer).Public())
	require.NoError(t, err)
	return pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der}), pem.EncodeToMemory(&pem.Block{Type: "PUBLIC KEY", Bytes: pub})
}

func newES256(t testing.TB) *ecdsa.PrivateKey {
	t.Helper()
	k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	return k
}

func newEdDSA(t testing.TB) ed25519.PrivateKey {
	t.Helper()
	_, k, err := ed25519.GenerateKey(rand.Reader)
	require.NoError(t, err)
	return k
}

// signing makes a key that signs as id and the key that verifies it.
func signing(t testing.TB, private any, id string) (*PrivateKey, *PublicKey) {
	t.Helper()
	key, public := keyPair(t, private)
	k, err := ReadPrivateKey("desk.pem", key, id)
	require.NoError(t, err)
	p, err := ReadPublicKey("desk.pub.pem", public)
	require.NoError(t, err)
	return k, p
}

// tinyBook is a small rulebook of every part.
func tinyBook() Folder {
	return Folder{
		"rulebook.yaml": []byte("rulebook: tiny\ntitle: Tiny <rules> & more\nedition: '7'\n"),
		"sources.yaml":  []byte("sources: [{id: house, kind: firm, title: House book}]\n"),
		"rules/a.yaml": []byte(`subject: house
rules:
  - {id: tiny-height, title: Steam enters 220 to 280.5 mm above the floor, severity: major, from: design, applies_to: steam_outlet, measure: outlet_height_mm, allowed: {between: [220, 280.5]}, why: W, remedy: R, source: {id: house, basis: practice}}
  - {id: tiny-own, title: Layers are named, severity: minor, from: design, applies_to: face, measure: layers, rego: true, says: more than mesh, needs: [layers], why: W, remedy: R, source: {id: house, basis: practice}}
`),
		"rego/own.rego":      []byte("package wetrule.rules\n\nimport data.tiny.words\n\nfindings contains [\"tiny-own\", input.face.id[i], layers] if {\n\tsome i, layers in input.face.layers\n\tlayers == words.alone\n}\n"),
		"rego/words.rego":    []byte("package tiny.words\n\nalone := [\"mesh\"]\n"),
		"rego/own_test.rego": []byte("package wetrule.rules_test\n\nimport data.wetrule.rules\n\ntest_alone if count(rules.findings) == 1 with input as {\"face\": {\"id\": [\"a\"], \"layers\": [[\"mesh\"]]}} with data.wetrule.checks as {} with data.wetrule.needing as []\n"),
		"examples/a.yaml":    []byte("examples: []\n"),
	}
}

func openFolder(t testing.TB, files Folder, label string) *rulebook.Rulebook {
	t.Helper()
	b, err := rulebook.Open(files, label)
	require.NoError(t, err)
	return b
}

func engineAndAnswer() []rulebook.Module {
	file, text := policies.Sealed()
	return []rulebook.Module{engineModule(), {File: file, Text: text}}
}

// sealing lays a rulebook over others.
func sealing(t testing.TB, files Folder, below ...*rulebook.Rulebook) Sealing {
	t.Helper()
	b := openFolder(t, files, "house")
	layers, err := rulebook.Lay(append(slices.Clone(below), b))
	require.NoError(t, err)
	return Sealing{Files: files, Book: b, Layers: layers, On: "2026-06-30", Engine: engineAndAnswer()}
}

func sealed(t testing.TB, s Sealing) []byte {
	t.Helper()
	data, err := Seal(s)
	require.NoError(t, err)
	return data
}

func TestSealedRulebookOpensAsItWas(t *testing.T) {
	files := tinyBook()
	desk, trusted := signing(t, newES256(t), "desk-2026")
	light, alsoTrusted := signing(t, newEdDSA(t), "")
	_, stranger := signing(t, newES256(t), "")
	for name, tc := range map[string]struct {
		key   *PrivateKey
		trust Trust
		want  rulebook.Signature
	}{
		"unsigned":                {nil, Trust{}, rulebook.Signature{State: rulebook.Unsigned}},
		"unsigned, keys at hand":  {nil, Trust{Keys: []*PublicKey{trusted}}, rulebook.Signature{State: rulebook.Unsigned}},
		"signed, no key at hand":  {desk, Trust{}, rulebook.Signature{State: rulebook.Unverified, Algorithm: ES256, KeyID: "desk-2026"}},
		"ES256":                   {desk, Trust{Keys: []*PublicKey{trusted}, Required: true}, rulebook.Signature{State: rulebook.Verified, Algorithm: ES256, KeyID: "desk-2026", By: "desk.pub.pem"}},
		"EdDSA":                   {light, Trust{Keys: []*PublicKey{alsoTrusted}, Required: true}, rulebook.Signature{State: rulebook.Verified, Algorithm: EdDSA, KeyID: light.ID, By: "desk.pub.pem"}},
		"one of several is right": {desk, Trust{Keys: []*PublicKey{stranger, alsoTrusted, trusted}, Required: true}, rulebook.Signature{State: rulebook.Verified, Algorithm: ES256, KeyID: "desk-2026", By: "desk.pub.pem"}},
	} {
		t.Run(name, func(t *testing.T) {
			s := sealing(t, files)
			s.Key = tc.key
			data := sealed(t, s)
			book, about, err := OpenSealed("tiny.tar.gz", data, tc.trust)
			require.NoError(t, err)
			require.Equal(t, tc.want, about.Signed)
			require.Equal(t, "tiny", about.Name)
			require.Equal(t, "7", about.Edition)
			require.Equal(t, "2026-06-30", about.On)
			require.Equal(t, []rulebook.Layer{{Rulebook: "tiny", Edition: "7"}}, about.Layers)
			require.Equal(t, 2, about.Rules)
			require.Regexp(t, "^[0-9a-f]{64}$", about.Revision)
			require.Len(t, book.Rules, 2)
			require.Equal(t, "tiny.tar.gz/rules/a.yaml", book.Rules[0].Pos.File())
			require.Len(t, book.Tests, 1)
			inside, _, err := unpack(data)
			require.NoError(t, err)
			require.Equal(t, files, inside.Under("rulebook"))
			require.Len(t, about.Files, len(inside))
		})
	}
	require.Regexp(t, "^[0-9a-f]{16}$", light.ID, "an id made from the public key")
}

// TestSameRulebookSameBytes holds for signed ones too.
func TestSameRulebookSameBytes(t *testing.T) {
	for _, private := range []any{nil, newES256(t), newEdDSA(t)} {
		var first []byte
		for range 4 {
			s := sealing(t, tinyBook())
			if private != nil {
				s.Key, _ = signing(t, private, "k")
			}
			data := sealed(t, s)
			if first == nil {
				first = data
			}
			require.True(t, bytes.Equal(first, data))
		}
	}
	other := tinyBook()
	other["examples/a.yaml"] = append(other["examples/a.yaml"], '\n')
	a, err := revisionOf(sealed(t, sealing(t, tinyBook())))
	require.NoError(t, err)
	b, err := revisionOf(sealed(t, sealing(t, other)))
	require.NoError(t, err)
	require.NotEqual(t, a, b)
}

func revisionOf(data []byte) (string, error) {
	_, s, err := OpenSealed("x", data, Trust{})
	if err != nil {
		return "", err
	}
	return s.Revision, nil
}

// TestES256SignsByRFC6979 holds the signature against RFC 6979, A.2.5 (P-256, SHA-256, message "sample"); vector from memory.
func TestES256SignsByRFC6979(t *testing.T) {
	d, err := hex.DecodeString("C9AFA9D845BA75166B5C215767B1D6934E50C3DB36E89B127B8A622B120F6721")
	require.NoError(t, err)
	k, err := ecdsa.ParseRawPrivateKey(elliptic.P256(), d)
	require.NoError(t, err)
	got, err := signES256(k, []byte("sample"))
	require.NoError(t, err)
	require.Equal(t, "EFD48B2AACB6A8FD1140DD9CD45E81D69D2C877B56AAF991C34D0EA84EAF3716"+
		"F7CB1C942D657C41D436C7A1B6E29F65F3E900DBB9AFF4064DC4AB2F843ACDA8", strings.ToUpper(hex.EncodeToString(got)))
}

// nameOfByte names the file in whose content a byte of a tar archive lies; empty for heads and padding.
func nameOfByte(t *testing.T, plain []byte) func(at int) string {
	t.Helper()
	type span struct {
		from, to int
		name     string
	}
	var spans []span
	in := bytes.NewReader(plain)
	r := tar.NewReader(in)
	for {
		h, err := r.Next()
		if err != nil {
			break
		}
		from := len(plain) - in.Len()
		spans = append(spans, span{from, from + int(h.Size), h.Name})
	}
	return func(at int) string {
		for _, s := range spans {
			if at >= s.from && at < s.to {
				return s.name
			}
		}
		return ""
	}
}

// TestAnyFlippedByteIsRefused flips bytes of the packed archive and, behind its checksum, of every file, head and padding in it.
func TestAnyFlippedByteIsRefused(t *testing.T) {
	key, trusted := signing(t, newES256(t), "desk-2026")
	for name, tc := range map[string]struct {
		key   *PrivateKey
		trust Trust
	}{
		"signed":   {key, Trust{Keys: []*PublicKey{trusted}, Required: true}},
		"unsigned": {nil, Trust{}},
	} {
		t.Run(name, func(t *testing.T) {
			s := sealing(t, tinyBook())
			s.Key = tc.key
			data := sealed(t, s)
			_, plain, err := unpack(data)
			require.NoError(t, err)
			flips, harmless := 0, 0
			for i := range data {
				ends := i < 20 || i >= len(data)-20
				for bit := range 8 {
					if !ends && bit != i%16 {
						continue // one bit of every second byte in the middle
					}
					flips++
					bad := slices.Clone(data)
					bad[i] ^= 1 << bit
					_, _, err := OpenSealed("tiny.tar.gz", bad, tc.trust)
					if err != nil {
						require.ErrorContains(t, err, "tiny.tar.gz is refused: ", "byte %d", i)
						continue
					}
					// Seven bits at most before the checksum mean nothing, and the distance of a match may come to point at the same text elsewhere.
					_, same, err := unpack(bad)
					require.NoError(t, err)
					require.True(t, bytes.Equal(plain, same), "byte %d", i)
					harmless++
				}
			}
			require.Less(t, harmless, 7+flips/50, "of %d flips", flips)

			of := nameOfByte(t, plain)
			named := map[string]bool{}
			for i := range plain {
				if i%5 != 0 && of(i) == of(max(i-1, 0)) && of(i) == of(min(i+1, len(plain)-1)) {
					continue // a fifth of the bytes, and the first and last of each file
				}
				bad := slices.Clone(plain)
				bad[i] ^= 1 << (i % 8)
				packed, err := gzipped(bad, gzip.NoCompression)
				require.NoError(t, err)
				_, _, err = OpenSealed("tiny.tar.gz", packed, tc.trust)
				require.ErrorContains(t, err, "tiny.tar.gz is refused: ", "byte %d of the files, %s", i, of(i))
				switch file := of(i); file {
				case "", manifestFile, signaturesFile:
				default:
					require.ErrorContains(t, err, file+": digest mismatch")
					named[file] = true
				}
			}
			require.Len(t, named, len(tinyBook())+3, "data and two modules beside the rulebook")
		})
	}
}

// gzipped packs quickly, with the head that sealed rulebooks have.
func gzipped(plain []byte, level int) ([]byte, error) {
	var out bytes.Buffer
	z, err := gzip.NewWriterLevel(&out, level)
	if err != nil {
		return nil, err
	}
	if _, err = z.Write(plain); err == nil {
		err = z.Close()
	}
	copy(out.Bytes(), gzipHeader)
	return out.Bytes(), err
}

// reseal makes the manifest fit changed files, as somebody would who has no key.
func reseal(t *testing.T, files Folder) []byte {
	t.Helper()
	var m sealedManifest
	require.NoError(t, json.Unmarshal(files[manifestFile], &m))
	m.Metadata.Digests = map[string]string{}
	for name, data := range files {
		if name != manifestFile && name != signaturesFile {
			m.Metadata.Digests[name] = digest(data)
		}
	}
	var err error
	files[manifestFile], err = m.bytes()
	require.NoError(t, err)
	data, err := pack(files)
	require.NoError(t, err)
	return data
}

// TestOnlyTrustedSignaturesCount looks from the side of somebody who seals a changed rulebook well and has no trusted key.
func TestOnlyTrustedSignaturesCount(t *testing.T) {
	key, trusted := signing(t, newES256(t), "desk-2026")
	forger, forgers := signing(t, newES256(t), "desk-2026") // under the same id
	light, lights := signing(t, newEdDSA(t), "desk-2026")
	s := sealing(t, tinyBook())
	unsigned := sealed(t, s)
	s.Key = forger
	forged := sealed(t, s)
	s.Key = light
	lightly := sealed(t, s)
	s.Key = key
	good := sealed(t, s)
	required := Trust{Keys: []*PublicKey{trusted}, Required: true}
	inside := func() Folder {
		files, _, err := unpack(good)
		require.NoError(t, err)
		return files
	}
	changed := func(change func(Folder)) []byte {
		files := inside()
		change(files)
		return reseal(t, files)
	}
	algNone := base64.RawURLEncoding.EncodeToString([]byte(`{"alg":"none","kid":"desk-2026"}`)) + "." + base64.RawURLEncoding.EncodeToString([]byte(`{"files":[]}`)) + "."
	hs256 := base64.RawURLEncoding.EncodeToString([]byte(`{"alg":"HS256","kid":"desk-2026"}`)) + "." + base64.RawURLEncoding.EncodeToString([]byte(`{"files":[]}`)) + ".AAAA"
	token := func(tok string) func(Folder) {
		return func(f Folder) {
			raw, err := json.Marshal(bundle.SignaturesConfig{Signatures: []string{tok}})
			require.NoError(t, err)
			f[signaturesFile] = raw
		}
	}
	for name, tc := range map[string]struct {
		data  []byte
		trust Trust
		says  string
	}{
		"no key trusted":      {good, Trust{Required: true}, "a signature is required and no key is trusted"},
		"unsigned":            {unsigned, required, "it is unsigned, and signatures are required"},
		"wrong key":           {forged, required, "its signature (ES256, key id desk-2026) is not by a trusted key, or was tampered with: desk.pub.pem did not make it"},
		"other algorithm":     {lightly, required, "not by a trusted key, or was tampered with: desk.pub.pem is for ES256"},
		"ours, not trusted":   {good, Trust{Keys: []*PublicKey{forgers, lights}, Required: true}, "desk.pub.pem did not make it; desk.pub.pem is for EdDSA"},
		"wrong, not required": {forged, Trust{Keys: []*PublicKey{trusted}}, "not by a trusted key"},
		"signature taken off": {changed(func(f Folder) { delete(f, signaturesFile) }), required, "it is unsigned"},
		"limit changed": {changed(func(f Folder) {
			f["rulebook/rules/a.yaml"] = bytes.Replace(f["rulebook/rules/a.yaml"], []byte("220"), []byte("120"), 2)
		}), required, "it is not what was signed: .manifest: digest mismatch; rulebook/rules/a.yaml: digest mismatch"},
		"data changed": {changed(func(f Folder) { f["data.json"] = bytes.Replace(f["data.json"], []byte("280.5"), []byte("480.5"), 1) }), required,
			"it is not what was signed: .manifest: digest mismatch; data.json: digest mismatch"},
		"file added":    {changed(func(f Folder) { f["rulebook/rules/b.yaml"] = []byte("subject: b\nrules: []\n") }), required, "rulebook/rules/b.yaml was not there when it was signed"},
		"file missing":  {changed(func(f Folder) { delete(f, "rulebook/examples/a.yaml") }), required, `"rulebook/examples/a.yaml" is missing`},
		"no algorithm":  {changed(token(algNone)), required, `.signatures.json: is signed by "none"; rulebooks are signed by ES256 or EdDSA`},
		"key as secret": {changed(token(hs256)), required, `.signatures.json: is signed by "HS256"`},
		"two signatures": {changed(func(f Folder) {
			f[signaturesFile] = []byte(`{"signatures":["a.b.c","a.b.c"]}`)
		}), required, ".signatures.json: is not as it was sealed"},
		"other verifier": {changed(func(f Folder) {
			f[signaturesFile] = bytes.Replace(f[signaturesFile], []byte("]}"), []byte(`],"plugin":"x"}`), 1)
		}), required, ".signatures.json: is not as it was sealed"},
		"spare bits": {changed(func(f Folder) {
			// The last digit of 64 bytes in base64 has four bits that say nothing.
			const digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"
			at := len(f[signaturesFile]) - len(`"]}`) - 1
			f[signaturesFile] = slices.Clone(f[signaturesFile])
			f[signaturesFile][at] = digits[strings.IndexByte(digits, f[signaturesFile][at])^1]
		}), required, ".signatures.json: cannot be read: illegal base64 data"},
		"added, unsigned": {func() []byte {
			files, _, err := unpack(unsigned)
			require.NoError(t, err)
			files["rulebook/rules/b.yaml"] = nil
			data, err := pack(files)
			require.NoError(t, err)
			return data
		}(), Trust{}, "it is not what was sealed: rulebook/rules/b.yaml was not there when it was sealed"},
		"two rulebooks": {changed(func(f Folder) {
			f["rulebook/rulebook.yaml"] = bytes.Replace(f["rulebook/rulebook.yaml"], []byte("'7'"), []byte("'8'"), 1)
			delete(f, signaturesFile)
		}), Trust{}, ".manifest and rulebook/rulebook.yaml describe two rulebooks"},
		"later format": {func() []byte {
			files := inside()
			delete(files, signaturesFile)
			files[manifestFile] = bytes.Replace(files[manifestFile], []byte(`"format":1`), []byte(`"format":2`), 1)
			data, err := pack(files)
			require.NoError(t, err)
			return data
		}(), Trust{}, "it is sealed in the format 2; this program reads the format 1"},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := OpenSealed("tiny.tar.gz", tc.data, tc.trust)
			require.ErrorContains(t, err, "tiny.tar.gz is refused: ")
			require.ErrorContains(t, err, tc.says)
		})
	}
	_, _, err := OpenSealed("tiny.tar.gz", good, required)
	require.NoError(t, err)
}

// TestHostileArchivesAreRefused opens archives that nobody sealed.
func TestHostileArchivesAreRefused(t *testing.T) {
	archive := func(headers ...tar.Header) []byte {
		var out bytes.Buffer
		w := tar.NewWriter(&out)
		for _, h := range headers {
			h.Size = 0
			if h.Typeflag == tar.TypeReg {
				h.Size = 1
			}
			h.Mode = 0o644
			require.NoError(t, w.WriteHeader(&h))
			if h.Size > 0 {
				_, err := w.Write([]byte("x"))
				require.NoError(t, err)
			}
		}
		require.NoError(t, w.Close())
		data, err := gzipped(out.Bytes(), gzip.BestCompression)
		require.NoError(t, err)
		return data
	}
	file := func(name string) tar.Header { return tar.Header{Typeflag: tar.TypeReg, Name: name} }
	good := sealed(t, sealing(t, tinyBook()))
	_, plain, err := unpack(good)
	require.NoError(t, err)
	var many []tar.Header
	for i := range maxSealedFiles + 1 {
		many = append(many, file(fmt.Sprintf("rulebook/rules/%d.yaml", i)))
	}
	large := func() []byte { // a file that is too large, packed to little
		var out bytes.Buffer
		w := tar.NewWriter(&out)
		require.NoError(t, w.WriteHeader(&tar.Header{Typeflag: tar.TypeReg, Name: "rulebook/rules/a.yaml", Size: MaxSealedFile + 1, Mode: 0o644}))
		_, err := w.Write(make([]byte, MaxSealedFile+1))
		require.NoError(t, err)
		require.NoError(t, w.Close())
		data, err := gzipped(out.Bytes(), gzip.BestSpeed)
		require.NoError(t, err)
		return data
	}()
	bomb, err := gzipped(make([]byte, maxUnpacked+1), gzip.BestCompression)
	require.NoError(t, err)
	require.Less(t, len(bomb), MaxSealed)
	lying := slices.Clone(plain)
	copy(lying[124:136], "77777777777\x00") // the size of the first file, in octal digits
	claims, err := gzipped(lying, gzip.BestSpeed)
	require.NoError(t, err)
	plainGzip, err := gzipped(plain, gzip.BestCompression)
	require.NoError(t, err)
	plainGzip[4] = 1 // a time
	for name, tc := range map[string]struct {
		data []byte
		says string
	}{
		"nothing":               {nil, "it is no gzip archive"},
		"text":                  {[]byte("rulebook: x\ntitle: y\n"), "it is no gzip archive"},
		"head alone":            {gzipHeader, "the archive cannot be read"},
		"other head":            {plainGzip, "the head of the archive is not as it was sealed"},
		"empty archive":         {archive(), "it is no sealed rulebook: there is no .manifest in it"},
		"out of the folder":     {archive(file("rulebook/../../x.yaml")), `"rulebook/../../x.yaml" has no place in a sealed rulebook`},
		"from the root":         {archive(file("/etc/rules/x.yaml")), `"/etc/rules/x.yaml" has no place`},
		"backslashes":           {archive(file(`rulebook/rules/..\..\x.yaml`)), "has no place"},
		"control characters":    {archive(file("rulebook/rules/\x1b[2J.yaml")), `"rulebook/rules/\x1b[2J.yaml" has no place`},
		"a part of no rulebook": {archive(file("rulebook/run.sh")), "has no place"},
		"a patch":               {archive(file("patch.json")), "has no place"},
		"machine code":          {archive(file("policy.wasm")), "has no place"},
		"other data":            {archive(file("layers/data.json")), "has no place"},
		"a link":                {archive(tar.Header{Typeflag: tar.TypeSymlink, Name: "rulebook/rules/a.yaml", Linkname: "/etc/passwd"}), "is no regular file"},
		"a folder":              {archive(tar.Header{Typeflag: tar.TypeDir, Name: "rulebook/"}), "is no regular file"},
		"twice":                 {archive(file("data.json"), file("data.json")), "data.json lies in it twice"},
		"many files":            {archive(many...), "it holds more than 4000 files"},
		"a large file":          {large, "rulebook/rules/a.yaml in it is larger than 8 MiB"},
		"a bomb":                {bomb, "unpacked it is larger than 64 MiB"},
		"a large archive":       {make([]byte, MaxSealed+1), "it is larger than 16 MiB"},
		"a size that lies":      {claims, "is refused: "},
		"something behind":      {append(slices.Clone(good), 0), "something follows the end of the archive"},
		"an archive behind":     {append(slices.Clone(good), good...), "something follows the end of the archive"},
		"other layout": {func() []byte {
			data, err := gzipped(append(slices.Clone(plain), make([]byte, 512)...), gzip.BestSpeed)
			require.NoError(t, err)
			return data
		}(), "the archive is not laid out as it was sealed"},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := OpenSealed("x.tar.gz", tc.data, Trust{})
			require.ErrorContains(t, err, "x.tar.gz is refused: ")
			require.ErrorContains(t, err, tc.says)
		})
	}
	for n := range good {
		_, _, err := OpenSealed("x.tar.gz", good[:n], Trust{})
		require.ErrorContains(t, err, "x.tar.gz is refused: ", "cut off after %d bytes", n)
	}
}

func TestWhatCannotBeSealed(t *testing.T) {
	for name, tc := range map[string]struct {
		change func(Folder)
		says   string
	}{
		"a name that servers take for data": {func(f Folder) { f["rules/data.yaml"] = []byte("subject: x\nrules: []\n") }, "rulebook/rules/data.yaml: a policy server would take a file of this name for data"},
		"a name that is no name":            {func(f Folder) { f["rules/a\tb.yaml"] = []byte("subject: x\nrules: []\n") }, "is no name for a file in a sealed rulebook"},
		"Rego that does not compile": {func(f Folder) {
			f["rego/own.rego"] = []byte("package wetrule.rules\n\nfindings contains [\"a\", \"b\"] if http.send({})\n")
		}, "house/rego/own.rego:3"},
		"a test that cannot be read": {func(f Folder) { f["rego/own_test.rego"] = []byte("package\n") }, "house/rego/own_test.rego:2"},
	} {
		t.Run(name, func(t *testing.T) {
			files := tinyBook()
			tc.change(files)
			_, err := Seal(sealing(t, files))
			require.ErrorContains(t, err, tc.says)
		})
	}
}

func TestSnapshotTakesThePartsOfARulebook(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) {
		require.NoError(t, os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	for name, data := range tinyBook() {
		write(name, string(data))
	}
	write("README.md", "x")
	write(".hidden", "x")
	write("rules/notes.txt", "x")
	write("drawings/a.yaml", "x")
	files, leftOut, err := Snapshot(os.DirFS(dir))
	require.NoError(t, err)
	require.Equal(t, tinyBook(), files)
	require.Equal(t, []string{"README.md", "drawings", "rules/notes.txt"}, leftOut)
	require.NoError(t, fstest.TestFS(files, files.names()...))
	require.NoError(t, os.Mkdir(filepath.Join(dir, "rules", "x.yaml"), 0o755))
	_, _, err = Snapshot(os.DirFS(dir))
	require.EqualError(t, err, "rules/x.yaml is no regular file")
	require.NoError(t, os.Remove(filepath.Join(dir, "rules", "x.yaml")))
	write("rules/x.yaml", strings.Repeat("#", MaxSealedFile+1))
	_, _, err = Snapshot(os.DirFS(dir))
	require.EqualError(t, err, "rules/x.yaml is larger than 8 MiB")
	_, _, err = Snapshot(os.DirFS(filepath.Join(dir, "nowhere")))
	require.Error(t, err)
}

// TestNoPartIsLeftOut sees that every file of the rulebooks that come with wetrule is taken for a part of one: a sort of file that is new to rulebooks
// must be sealed too.
func TestNoPartIsLeftOut(t *testing.T) {
	for _, name := range policies.Books() {
		fsys, ok := policies.Book(name)
		require.True(t, ok)
		files, leftOut, err := Snapshot(fsys)
		require.NoError(t, err)
		require.Empty(t, leftOut, name)
		n := 0
		require.NoError(t, fs.WalkDir(fsys, ".", func(_ string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() {
				n++
			}
			return err
		}))
		require.Len(t, files, n, name)
		want, err := rulebook.Open(fsys, "x")
		require.NoError(t, err)
		got, err := rulebook.Open(files, "x")
		require.NoError(t, err)
		require.Equal(t, len(want.Rules), len(got.Rules))
		require.Equal(t, len(want.Zones), len(got.Zones))
		require.Equal(t, want.HasMethods(), got.HasMethods())
		require.Equal(t, want.Modules, got.Modules)
	}
}

func TestKeys(t *testing.T) {
	p256 := newES256(t)
	p384, err := ecdsa.GenerateKey(elliptic.P384(), rand.Reader)
	require.NoError(t, err)
	rsaKey, err := rsa.GenerateKey(rand.Reader, 2048)
	require.NoError(t, err)
	private, public := keyPair(t, p256)
	sec1DER, err := x509.MarshalECPrivateKey(p256)
	require.NoError(t, err)
	sec1 := pem.EncodeToMemory(&pem.Block{Type: "EC PRIVATE KEY", Bytes: sec1DER})
	parameters := append(pem.EncodeToMemory(&pem.Block{Type: "EC PARAMETERS", Bytes: []byte{6, 8, 0x2a, 0x86, 0x48, 0xce, 0x3d, 3, 1, 7}}), sec1...)
	want, err := ReadPrivateKey("k", private, "")
	require.NoError(t, err)
	for _, form := range [][]byte{sec1, parameters} {
		k, err := ReadPrivateKey("k", form, "")
		require.NoError(t, err)
		require.Equal(t, want, k)
	}
	key384, public384 := keyPair(t, p384)
	keyRSA, publicRSA := keyPair(t, rsaKey)
	typed := func(sort string) []byte { return pem.EncodeToMemory(&pem.Block{Type: sort, Bytes: []byte{1}}) }
	locked := pem.EncodeToMemory(&pem.Block{Type: "EC PRIVATE KEY", Headers: map[string]string{"Proc-Type": "4,ENCRYPTED"}, Bytes: []byte{1}})
	for name, tc := range map[string]struct {
		data []byte
		says string
	}{
		"public key":     {public, "k.pem holds a public key; a rulebook is signed with the private key"},
		"curve P-384":    {key384, "k.pem holds a key on the curve P-384; rulebooks are signed on P-256 (ES256) or with Ed25519 (EdDSA)"},
		"RSA":            {keyRSA, "k.pem holds a key of another sort"},
		"no PEM":         {[]byte("secret"), "k.pem holds no key in PEM"},
		"nothing":        {nil, "k.pem holds no key in PEM"},
		"certificate":    {typed("CERTIFICATE"), `k.pem holds "CERTIFICATE"`},
		"broken":         {typed("PRIVATE KEY"), "k.pem cannot be read as a private key"},
		"locked":         {typed("ENCRYPTED PRIVATE KEY"), "k.pem is locked with a passphrase"},
		"locked the old": {locked, "k.pem is locked with a passphrase"},
		"large":          {make([]byte, MaxKeyBytes+1), "k.pem is too large for a key"},
	} {
		t.Run("private/"+name, func(t *testing.T) {
			_, err := ReadPrivateKey("k.pem", tc.data, "")
			require.ErrorContains(t, err, tc.says)
		})
	}
	for name, tc := range map[string]struct {
		data []byte
		says string
	}{
		"private key": {private, "k.pem holds a private key; trust the public key and keep the private one to yourself"},
		"SEC 1":       {sec1, "k.pem holds a private key"},
		"curve P-384": {public384, "on the curve P-384"},
		"RSA":         {publicRSA, "another sort"},
		"certificate": {typed("CERTIFICATE"), `holds "CERTIFICATE"; a trusted key is a PUBLIC KEY`},
		"broken":      {typed("PUBLIC KEY"), "cannot be read as a public key"},
	} {
		t.Run("public/"+name, func(t *testing.T) {
			_, err := ReadPublicKey("k.pem", tc.data)
			require.ErrorContains(t, err, tc.says)
		})
	}
	for _, id := range []string{"a b", "-a", "a\n", strings.Repeat("a", 101), "é"} {
		_, err := ReadPrivateKey("k.pem", private, id)
		require.ErrorContains(t, err, "the key id", id)
	}
}

// firmBook amends core, switches a rule of Rego off and adds a rule of an edition to come.
func firmBook() Folder {
	return Folder{
		"rulebook.yaml": []byte("rulebook: firm\ntitle: Firm\nedition: '1'\nlayer: firm\n"),
		"sources.yaml":  []byte("sources: [{id: house, kind: firm, title: House book}]\n"),
		"rules/a.yaml": []byte(`subject: house
rules:
  - {id: firm-height, title: H, severity: major, from: design, applies_to: steam_outlet, measure: outlet_height_mm, allowed: {at_most: 1}, why: W, remedy: R, in_force: {from: "2027-01-01"}, source: {id: house, basis: practice}}
amendments:
  - {rule: steam-outlet-height, change: tighten, title: T, allowed: {between: [259.999, 270]}, reason: r}
  - {rule: build-up-order, change: off, reason: r}
`),
	}
}

// measuredJobs are the base job and such with faults and gaps, with their facts.
func measuredJobs(t *testing.T) map[string]*jobfile.Job {
	t.Helper()
	out := map[string]*jobfile.Job{}
	for _, name := range []string{"clean", "faults"} {
		data, err := os.ReadFile("../../fixtures/demo/" + name + ".yaml")
		require.NoError(t, err)
		f, err := jobfile.Load(name, data)
		require.NoError(t, err)
		out[name] = f.Job
	}
	_, base := coreBook(t)
	layers := base.Get("build_up")
	require.NotNil(t, layers)
	for name, changes := range map[string]string{
		"gaps":  "steam_1.y_mm: null\n/build_up/waterproofing/thickness_mm: null\n/tasks/tile/planned: null\n/climate: null\n",
		"steam": "steam_1.y_mm: 259\n",
	} {
		node, err := jobfile.Read("changes", []byte(changes))
		require.NoError(t, err)
		root, err := rulebook.Example{Changes: node}.Apply(base)
		require.NoError(t, err)
		f, err := jobfile.FromNode(name, root)
		require.NoError(t, err)
		out[name] = f.Job
	}
	return out
}

// said is what wetrule's own engine finds of facts, as sorted lines of JSON.
func said(t *testing.T, e *Engine, set *measure.Set, stage rulebook.Stage) []string {
	t.Helper()
	w := e.spare.Get().(*work)
	e.assess(w, set)
	answer, err := e.engine.evaluate(context.Background(), e.input(w, &verdict.Review{Set: set, Stage: stage}), topdown.NewCancel(), false)
	require.NoError(t, err)
	list, err := ast.JSON(answer)
	require.NoError(t, err)
	return lines(t, list)
}

func lines(t *testing.T, set any) []string {
	t.Helper()
	list, ok := set.([]any)
	require.True(t, ok, "%T", set)
	out := make([]string, len(list))
	for i, x := range list {
		b, err := json.Marshal(x)
		require.NoError(t, err)
		out[i] = string(b)
	}
	slices.Sort(out)
	return out
}

// bundledJob is a job with the facts that a policy server gets and the findings that it must give.
type bundledJob struct {
	name  string
	facts []byte
	all   []string // data.wetrule.rules.findings
	judge []string // those of rules that the edition judges by
}

// bundledJobs seals the firm's rulebook over core and works out what it must answer.
func bundledJobs(t *testing.T, key *PrivateKey) (data []byte, jobs []bundledJob) {
	t.Helper()
	core, _ := coreBook(t)
	s := sealing(t, firmBook(), core)
	s.Key = key
	data = sealed(t, s)
	m := engineModule()
	var rules []*rulebook.Rule
	for _, r := range s.Layers.At(s.On) {
		if r.InForce == nil || r.InForce.Contains(s.On) {
			rules = append(rules, r)
		}
	}
	e, err := New(m.File, m.Text, rules, core.Modules, Options{Zones: rulebook.ZoneGeometry(rulebook.LayZones(s.Layers.Books))})
	require.NoError(t, err)
	measured := measuredJobs(t)
	for _, name := range slices.Sorted(maps.Keys(measured)) {
		job := measured[name]
		stage, ok := rulebook.ParseStage(job.Stage)
		require.True(t, ok)
		set := e.plan.Measure(job)
		facts, err := Facts(set, stage)
		require.NoError(t, err)
		b := bundledJob{name: name, facts: facts, all: said(t, e, set, stage)}
		for _, f := range b.all {
			if !strings.HasPrefix(f, `["build-up-order"`) {
				b.judge = append(b.judge, f)
			}
		}
		jobs = append(jobs, b)
	}
	return data, jobs
}

// TestBundleAnswersAsTheEngineDoes evaluates the sealed rulebook as a bundle, from nothing but its bytes and the facts as JSON.
func TestBundleAnswersAsTheEngineDoes(t *testing.T) {
	data, jobs := bundledJobs(t, nil)
	b, err := bundle.NewReader(bytes.NewReader(data)).WithRegoVersion(ast.RegoV1).Read()
	require.NoError(t, err)
	judged := b.Data["wetrule"].(map[string]any)["judged"].(map[string]any)
	require.NotContains(t, judged, "build-up-order", "switched off")
	require.NotContains(t, judged, "firm-height", "not yet in force")
	require.Equal(t, map[string]any{"title": "T", "severity": "major", "allowed": "259.999 to 270 mm", "rulebook": "core"}, judged["steam-outlet-height"])
	found := map[string]bool{}
	for _, j := range jobs {
		var input any
		require.NoError(t, json.Unmarshal(j.facts, &input))
		for query, want := range map[string][]string{query: j.all, "data.wetrule.sealed.findings": j.judge} {
			rs, err := rego.New(rego.ParsedBundle("firm", &b), rego.Query(query), rego.Input(input)).Eval(context.Background())
			require.NoError(t, err)
			require.Equal(t, orEmpty(want), lines(t, rs[0].Expressions[0].Value), "%s of %s", query, j.name)
		}
		for _, f := range j.all {
			var tuple []any
			require.NoError(t, json.Unmarshal([]byte(f), &tuple))
			found[tuple[0].(string)] = true
		}
	}
	require.True(t, found["steam-outlet-height"], "the tightened limit is in the data")
	require.Greater(t, len(found), 20)
}

func orEmpty(list []string) []string {
	if list == nil {
		return []string{}
	}
	return list
}

// TestPlainProgramAnswersAsTheEngineDoes does the same with the policy engine's own program, built from its module, which also verifies
// the signatures. It is built only when WETRULE_NO_SKIP=1.
func TestPlainProgramAnswersAsTheEngineDoes(t *testing.T) {
	if os.Getenv("WETRULE_NO_SKIP") != "1" {
		t.Skip("SKIPPED: a sealed rulebook is not held against the policy engine's own program, which takes minutes to build; set WETRULE_NO_SKIP=1")
	}
	dir := t.TempDir()
	run := func(name string, args ...string) ([]byte, error) {
		c := exec.Command(name, args...)
		c.Dir = dir
		c.Env = append(os.Environ(), "GOFLAGS=-mod=mod", "GOWORK=off")
		var errs bytes.Buffer
		c.Stderr = &errs
		out, err := c.Output()
		if err != nil {
			err = fmt.Errorf("%s %s: %w\n%s%s", name, strings.Join(args, " "), err, out, errs.Bytes())
		}
		return out, err
	}
	const module = "github.com/open-policy-agent/opa"
	version, err := exec.Command("go", "list", "-m", "-f", "{{.Version}}", module).Output()
	require.NoError(t, err)
	for _, args := range [][]string{{"mod", "init", "plain"}, {"get", module + "@" + strings.TrimSpace(string(version))}, {"build", "-o", "opa", module}} {
		_, err := run("go", args...)
		require.NoError(t, err)
	}
	opa := filepath.Join(dir, "opa")
	write := func(name string, data []byte) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), data, 0o600))
	}
	for alg, private := range map[string]any{ES256: newES256(t), EdDSA: newEdDSA(t)} {
		key, _ := signing(t, private, "desk")
		_, public := keyPair(t, private)
		data, jobs := bundledJobs(t, key)
		write("firm.tar.gz", data)
		write("desk.pub.pem", public)
		verify := func() error {
			_, err := run(opa, "build", "-b", "firm.tar.gz", "--verification-key", "desk.pub.pem", "--verification-key-id", "desk", "--signing-alg", alg, "-o", "out.tar.gz")
			return err
		}
		require.NoError(t, verify(), alg)
		files, _, err := unpack(data)
		require.NoError(t, err)
		files["rulebook/rules/a.yaml"] = append(files["rulebook/rules/a.yaml"], '#')
		bad, err := pack(files)
		require.NoError(t, err)
		write("firm.tar.gz", bad)
		require.ErrorContains(t, verify(), "rulebook/rules/a.yaml: digest mismatch", alg)
		write("firm.tar.gz", data)
		for _, j := range jobs {
			write("facts.json", j.facts)
			for query, want := range map[string][]string{query: j.all, "data.wetrule.sealed.findings": j.judge} {
				out, err := run(opa, "eval", "-b", "firm.tar.gz", "-i", "facts.json", "--format", "raw", query)
				require.NoError(t, err)
				var got any
				require.NoError(t, json.Unmarshal(out, &got))
				require.Equal(t, orEmpty(want), lines(t, got), "%s of %s", query, j.name)
			}
		}
	}
	// A rulebook's own Rego tests run from the bundle.
	write("tiny.tar.gz", sealed(t, sealing(t, tinyBook())))
	out, err := run(opa, "test", "-b", "tiny.tar.gz")
	require.NoError(t, err)
	require.Contains(t, string(out), "PASS: 1/1")
}

// TestFactsAreWhatPoliciesSee reads the facts back and compares them with the input of the engine.
func TestFactsAreWhatPoliciesSee(t *testing.T) {
	core, _ := coreBook(t)
	m := engineModule()
	e, err := New(m.File, m.Text, core.Rules, core.Modules, Options{})
	require.NoError(t, err)
	for name, job := range measuredJobs(t) {
		set := e.plan.Measure(job)
		facts, err := Facts(set, rulebook.Site)
		require.NoError(t, err)
		back, err := ast.ValueFromReader(bytes.NewReader(facts))
		require.NoError(t, err)
		require.Zero(t, back.Compare(e.names.input(&terms{}, set.Full().Tables, rulebook.Site, nil, nil)), name)
		again, err := Facts(e.plan.Measure(job), rulebook.Site)
		require.NoError(t, err)
		require.True(t, bytes.Equal(facts, again))
		var top map[string]any
		require.NoError(t, json.Unmarshal(facts, &top))
		require.EqualValues(t, 1, top["stage"])
		require.Contains(t, top, "unknown")
		require.NotContains(t, top, "doubts")
	}
}

// TestRootsArePackages keeps the packages of a bundle apart from those of others.
func TestRootsArePackages(t *testing.T) {
	m := func(pkg string) rulebook.Module { return rulebook.Module{File: pkg, Text: "package " + pkg + "\n"} }
	got, err := roots([]rulebook.Module{m("wetrule.rules"), m("tiny.words"), m("tiny.words.more"), m("tiny"), m("zeta.a"), m("zeta_b"), m("wetrule_x")})
	require.NoError(t, err)
	require.Equal(t, []string{"tiny", "wetrule", "wetrule_x", "zeta/a", "zeta_b"}, got)
	inside, _, err := unpack(sealed(t, sealing(t, tinyBook())))
	require.NoError(t, err)
	require.Contains(t, string(inside[manifestFile]), `"roots":["tiny/words","wetrule"],"rego_version":1`)
}

// TestAnswerOfSealedRulebooks runs the Rego tests of the answer, demands that they cover every line, and that it is written as Rego is.
func TestAnswerOfSealedRulebooks(t *testing.T) {
	text, err := os.ReadFile("../../policies/engine/sealed_test.rego")
	require.NoError(t, err)
	all := engineAndAnswer()
	tests := []rulebook.Module{{File: "policies/engine/sealed_test.rego", Text: string(text)}}
	got, err := Test(context.Background(), all[:1], all[1:], tests)
	require.NoError(t, err)
	require.Empty(t, got.Problems)
	require.Equal(t, 1, got.Tests)
	require.Empty(t, Unformatted(append(all[1:], tests...)))
	require.NoError(t, Check(all))
}

// FuzzOpenSealed looks for archives that break the reader. Files lie behind the checksum, so the fuzzer changes them before they are packed.
func FuzzOpenSealed(f *testing.F) {
	key, trusted := signing(f, newES256(f), "desk-2026")
	for _, k := range []*PrivateKey{nil, key} {
		s := sealing(f, tinyBook())
		s.Key = k
		data := sealed(f, s)
		f.Add(data, false)
		_, plain, err := unpack(data)
		require.NoError(f, err)
		f.Add(plain, true)
	}
	f.Fuzz(func(t *testing.T, data []byte, plain bool) {
		if plain {
			var err error
			data, err = gzipped(data, gzip.BestSpeed)
			require.NoError(t, err)
		}
		_, s, err := OpenSealed("x", data, Trust{Keys: []*PublicKey{trusted}, Required: true})
		if err == nil {
			require.Equal(t, rulebook.Verified, s.Signed.State)
		}
		_, _, _ = OpenSealed("x", data, Trust{})
	})
}

// TestSignatureIsOneNumberPair keeps small numbers of a signature at their full width.
func TestSignatureIsOneNumberPair(t *testing.T) {
	k := newES256(t)
	for i := range 600 { // about two in 256 have a leading zero
		text := []byte{byte(i), byte(i >> 8)}
		sig, err := signES256(k, text)
		require.NoError(t, err)
		require.Len(t, sig, 64)
		sum := sha256.Sum256(text)
		require.True(t, ecdsa.Verify(&k.PublicKey, sum[:], new(big.Int).SetBytes(sig[:32]), new(big.Int).SetBytes(sig[32:])))
	}
}
