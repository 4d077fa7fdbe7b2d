package judge

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
	"time"

	"github.com/open-policy-agent/opa/v1/ast"
	"github.com/open-policy-agent/opa/v1/bundle"
	"github.com/open-policy-agent/opa/v1/util"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
)

// A sealed rulebook is a bundle of the policy engine (tar, gzip):
//
//	.manifest                 revision, roots, version of Rego; metadata: what is sealed, and the digest of every file
//	.signatures.json          when it is signed
//	data.json                 data.wetrule.checks and .needing as the evaluator reads them; .judged, the rules by id
//	engine/*.rego             the evaluator, and the answer data.wetrule.sealed.findings
//	layers/<rulebook>/rego/*  Rego of the rulebooks that it is laid over
//	rulebook/...              the rulebook itself, file by file; its Rego is a part of the policies
//
// The data hold the rules of one edition, after layering, so that a policy server answers as wetrule does. wetrule itself reads the folder
// rulebook and lays it over the others anew, in the edition of each job.
const (
	// SealedFormat is the version of this layout.
	SealedFormat = 1
	// MaxSealed bounds the size of a sealed rulebook, MaxSealedFile that of each file in it.
	MaxSealed     = 16 << 20
	MaxSealedFile = 8 << 20

	maxUnpacked    = 64 << 20
	maxSealedFiles = 4000

	manifestFile   = bundle.ManifestExt
	signaturesFile = ".signatures.json"
	sealedData     = "data.json"
	engineFolder   = "engine"
	layersFolder   = "layers"
	bookFolder     = "rulebook"
)

// Sealing says what to seal.
type Sealing struct {
	Files  Folder             // the rulebook's, from Snapshot
	Book   *rulebook.Rulebook // as read from Files
	Layers *rulebook.Layers   // Book laid over others
	On     string             // the day whose edition the data hold; empty for the latest
	Engine []rulebook.Module  // the evaluator, and the answer
	Key    *PrivateKey        // nil leaves it unsigned
}

// metadata is what the manifest of a sealed rulebook says in addition to what the policy engine asks for.
type metadata struct {
	Format  int               `json:"format"`
	Book    rulebook.Manifest `json:"book"`
	On      string            `json:"on"`
	Layers  []rulebook.Layer  `json:"layers"`
	Rules   int               `json:"rules"`
	Digests map[string]string `json:"digests"` // SHA-256 of each file in hexadecimal digits
}

type sealedManifest struct {
	Revision    string   `json:"revision"` // SHA-256 of the manifest without it
	Roots       []string `json:"roots"`
	RegoVersion int      `json:"rego_version"`
	Metadata    metadata `json:"metadata"`
}

// bytes writes the manifest with its revision.
func (m sealedManifest) bytes() ([]byte, error) {
	m.Revision = ""
	bare, err := json.Marshal(m)
	if err != nil {
		return nil, err
	}
	m.Revision = digest(bare)
	return json.Marshal(m)
}

func digest(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// latest is a day after every edition that is known.
const latest = "9999-12-31"

// Seal packs a rulebook. The same rulebooks, day and key give the same bytes. The error is jobfile.Problems when a file of the rulebook is at fault.
func Seal(s Sealing) ([]byte, error) {
	day := s.On
	if day == "" {
		day = latest
	}
	var rules []*rulebook.Rule
	for _, r := range s.Layers.At(day) {
		if r.InForce == nil || r.InForce.Contains(day) {
			rules = append(rules, r)
		}
	}
	files := Folder{}
	m := sealedManifest{RegoVersion: ast.RegoV1.Int(), Metadata: metadata{Format: SealedFormat, Book: s.Book.Manifest, On: s.On, Rules: len(rules), Digests: map[string]string{}}}
	modules := slices.Clone(s.Engine)
	for _, e := range s.Engine {
		files[path.Join(engineFolder, path.Base(e.File))] = []byte(e.Text)
	}
	for _, b := range s.Layers.Books {
		m.Metadata.Layers = append(m.Metadata.Layers, rulebook.Layer{Rulebook: b.Name, Edition: b.Edition})
		modules = append(modules, b.Modules...)
		if b.Name == s.Book.Name {
			continue
		}
		for _, x := range b.Modules {
			files[path.Join(layersFolder, b.Name, "rego", path.Base(x.File))] = []byte(x.Text)
		}
	}
	for name, data := range s.Files {
		files[path.Join(bookFolder, name)] = data
	}
	if _, err := New(s.Engine[0].File, s.Engine[0].Text, rules, modules[1:], Options{}); err != nil {
		return nil, err
	}
	data, err := json.Marshal(sealedRules(rules))
	if err != nil {
		return nil, err
	}
	files[sealedData] = data
	if m.Roots, err = roots(append(modules, s.Book.Tests...)); err != nil {
		return nil, err
	}
	var ps jobfile.Problems
	for _, name := range files.names() {
		if problem := sealable(name, files[name]); problem != "" {
			ps = append(ps, jobfile.Problem{File: name, Message: problem})
		}
		m.Metadata.Digests[name] = digest(files[name])
	}
	if len(ps) > 0 {
		return nil, ps
	}
	if len(files) > maxSealedFiles {
		return nil, fmt.Errorf("%d files are more than may be sealed (%d)", len(files), maxSealedFiles)
	}
	if files[manifestFile], err = m.bytes(); err != nil {
		return nil, err
	}
	if s.Key != nil {
		if files[signaturesFile], err = sign(files, s.Key); err != nil {
			return nil, err
		}
	}
	out, err := pack(files)
	if err != nil {
		return nil, err
	}
	// What is written must open. A file that is too large, or Rego that the policy engine does not take in a bundle, shows here.
	if _, _, err := OpenSealed("the sealed rulebook", out, Trust{}); err != nil {
		return nil, err
	}
	return out, nil
}

// sealedRules are the data of a sealed rulebook.
func sealedRules(rules []*rulebook.Rule) map[string]any {
	data := Data(rules)
	judged := map[string]any{}
	for _, r := range rules {
		judged[r.ID] = map[string]any{"title": r.Title, "severity": r.Severity.String(), "allowed": r.AllowedText(), "rulebook": r.Rulebook}
	}
	data["wetrule"].(map[string]any)["judged"] = judged
	return data
}

// roots are the packages that a bundle owns: wetrule, and what else Rego of the rulebooks lives in.
func roots(modules []rulebook.Module) ([]string, error) {
	all := []string{"wetrule"}
	for _, m := range modules {
		parsed, err := ast.ParseModuleWithOpts(m.File, m.Text, ast.ParserOptions{RegoVersion: ast.RegoV1})
		if err != nil {
			return nil, problems(err)
		}
		ptr, err := parsed.Package.Path.Ptr()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", m.File, err)
		}
		all = append(all, ptr)
	}
	slices.Sort(all)
	var out []string
	for _, r := range all {
		if !bundle.RootPathsContain(out, r) {
			out = append(out, r) // a package comes before those below it
		}
	}
	return out, nil
}

// sealable says why a file cannot lie in a sealed rulebook.
func sealable(name string, data []byte) string {
	switch {
	case !isSealedName(name):
		return fmt.Sprintf("%q is no name for a file in a sealed rulebook", name)
	case bundle.IsYAMLDataFile(name):
		return "a policy server would take a file of this name for data; call it otherwise"
	case len(data) > MaxSealedFile:
		return "is larger than " + size(MaxSealedFile)
	}
	return ""
}

// isSealedName says whether a file has its place in a sealed rulebook.
func isSealedName(name string) bool {
	if !fs.ValidPath(name) || len(name) > 200 || strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == '\\' || r == 0x7f || r == 0xfffd }) {
		return false
	}
	top, rest, deeper := strings.Cut(name, "/")
	switch top {
	case manifestFile, signaturesFile, sealedData:
		return !deeper
	case engineFolder:
		return path.Ext(rest) == bundle.RegoExt && !strings.Contains(rest, "/")
	case layersFolder:
		dir := path.Dir(rest)
		return path.Ext(rest) == bundle.RegoExt && path.Base(dir) == "rego" && path.Dir(dir) != "."
	case bookFolder:
		return isPart(rest)
	}
	return false
}

// signed lists the digests of all files as the policy engine signs and verifies them: of structured files that of their
// values, of others that of their bytes.
func signed(files Folder) ([]bundle.FileInfo, error) {
	h, err := bundle.NewSignatureHasher(bundle.SHA256)
	if err != nil {
		return nil, err
	}
	var out []bundle.FileInfo
	for _, name := range files.names() {
		var value any = files[name]
		if bundle.IsStructuredDoc(name) {
			if err := util.UnmarshalJSON(files[name], &value); err != nil {
				return nil, fmt.Errorf("%s: %w", name, err)
			}
		}
		sum, err := h.HashFile(value)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		out = append(out, bundle.NewFile(name, hex.EncodeToString(sum), bundle.SHA256.String()))
	}
	return out, nil
}

func sign(files Folder, key *PrivateKey) ([]byte, error) {
	list, err := signed(files)
	if err != nil {
		return nil, err
	}
	token, err := bundle.GenerateSignedToken(list, bundle.NewSigningConfig(key.text, key.Algorithm, "").WithPlugin(signerID), key.ID)
	if err != nil {
		return nil, fmt.Errorf("the rulebook cannot be signed: %w", err)
	}
	// No plugin is named: the policy engine's own verifier verifies it.
	return json.Marshal(bundle.SignaturesConfig{Signatures: []string{token}})
}

// gzipHeader is what every sealed rulebook begins with (RFC 1952 section 2.3): no name, no time, best compression, no system.
var gzipHeader = []byte{0x1f, 0x8b, 8, 0, 0, 0, 0, 0, 2, 255}

// pack writes files in order of name, without times or owners.
func pack(files Folder) ([]byte, error) {
	plain, err := packTar(files)
	if err != nil {
		return nil, err
	}
	return compress(plain)
}

func compress(plain []byte) ([]byte, error) {
	var out bytes.Buffer
	z, err := gzip.NewWriterLevel(&out, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := z.Write(plain); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

func packTar(files Folder) ([]byte, error) {
	var out bytes.Buffer
	w := tar.NewWriter(&out)
	for _, name := range files.names() {
		if err := w.WriteHeader(&tar.Header{Typeflag: tar.TypeReg, Name: name, Size: int64(len(files[name])), Mode: 0o644, ModTime: time.Unix(0, 0)}); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		if _, err := w.Write(files[name]); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// unpack reads an archive into memory. Nothing in it becomes a path of the machine, and every size is bounded.
func unpack(data []byte) (files Folder, plain []byte, err error) {
	switch {
	case len(data) > MaxSealed:
		return nil, nil, fmt.Errorf("it is larger than %s", size(MaxSealed))
	case len(data) < len(gzipHeader) || !bytes.Equal(data[:2], gzipHeader[:2]):
		return nil, nil, errors.New("it is no gzip archive")
	case !bytes.Equal(data[:len(gzipHeader)], gzipHeader):
		return nil, nil, errors.New("the head of the archive is not as it was sealed")
	}
	in := bytes.NewReader(data)
	z, err := gzip.NewReader(in)
	if err != nil {
		return nil, nil, fmt.Errorf("the archive cannot be read: %w", err)
	}
	z.Multistream(false)
	plain, err = io.ReadAll(io.LimitReader(z, maxUnpacked+1))
	switch {
	case err != nil:
		return nil, nil, fmt.Errorf("the archive cannot be read: %w", err)
	case len(plain) > maxUnpacked:
		return nil, nil, fmt.Errorf("unpacked it is larger than %s", size(maxUnpacked))
	case in.Len() > 0:
		return nil, nil, errors.New("something follows the end of the archive")
	}
	files = Folder{}
	r := tar.NewReader(bytes.NewReader(plain))
	for {
		h, err := r.Next()
		if errors.Is(err, io.EOF) {
			return files, plain, nil
		}
		if err != nil {
			return nil, nil, fmt.Errorf("the archive cannot be read: %w", err)
		}
		switch _, twice := files[h.Name]; {
		case h.Typeflag != tar.TypeReg:
			return nil, nil, fmt.Errorf("%q in it is no regular file", h.Name)
		case !isSealedName(h.Name):
			return nil, nil, fmt.Errorf("%q has no place in a sealed rulebook", h.Name)
		case twice:
			return nil, nil, fmt.Errorf("%s lies in it twice", h.Name)
		case h.Size > MaxSealedFile:
			return nil, nil, fmt.Errorf("%s in it is larger than %s", h.Name, size(MaxSealedFile))
		case len(files) == maxSealedFiles:
			return nil, nil, fmt.Errorf("it holds more than %d files", maxSealedFiles)
		}
		if files[h.Name], err = io.ReadAll(io.LimitReader(r, MaxSealedFile+1)); err != nil {
			return nil, nil, fmt.Errorf("%s in it cannot be read: %w", h.Name, err)
		}
	}
}

// Trust says which signatures count.
type Trust struct {
	Keys     []*PublicKey
	Required bool // refuse what none of the keys has signed
}

// OpenSealed reads a sealed rulebook and sees that it is as it was sealed: by its signature when it has one and keys are trusted, and by the digests that it
// carries. The label stands for the file in messages. The error names the file and says what is wrong with it; it is jobfile.Problems when the rulebook in it is at fault.
func OpenSealed(label string, data []byte, trust Trust) (*rulebook.Rulebook, *rulebook.Sealed, error) {
	refuse := func(err error) error { return fmt.Errorf("%s is refused: %w", label, err) }
	files, plain, err := unpack(data)
	if err == nil {
		// Heads, padding and order are as they were sealed; what the files hold is looked at next.
		if same, e := packTar(files); e != nil || !bytes.Equal(same, plain) {
			err = errors.New("the archive is not laid out as it was sealed")
		}
	}
	if err != nil {
		return nil, nil, refuse(err)
	}
	s := &rulebook.Sealed{File: label}
	if s.Signed, err = verify(data, files, trust); err != nil {
		return nil, nil, refuse(err)
	}
	m, err := readManifest(files)
	if err != nil {
		return nil, nil, refuse(err)
	}
	book, err := rulebook.Open(files.Under(bookFolder), label)
	if err != nil {
		return nil, nil, err
	}
	if book.Manifest != m.Metadata.Book {
		return nil, nil, refuse(fmt.Errorf("%s and %s/rulebook.yaml describe two rulebooks", manifestFile, bookFolder))
	}
	s.Manifest, s.Revision, s.On, s.Layers, s.Rules = book.Manifest, m.Revision, m.Metadata.On, m.Metadata.Layers, m.Metadata.Rules
	for _, name := range files.names() {
		s.Files = append(s.Files, rulebook.SealedFile{Name: name, Bytes: len(files[name]), SHA256: digest(files[name])})
	}
	return book, s, nil
}

// verify reads the bundle as the policy engine does and verifies its signature.
func verify(data []byte, files Folder, trust Trust) (s rulebook.Signature, err error) {
	read := func(with *bundle.VerificationConfig) error {
		r := bundle.NewReader(bytes.NewReader(data)).WithSizeLimitBytes(MaxSealedFile).WithRegoVersion(ast.RegoV1)
		if with == nil {
			r = r.WithSkipBundleVerification(true)
		} else {
			r = r.WithBundleVerificationConfig(with)
		}
		_, err := r.Read()
		return err
	}
	s.State = rulebook.Unsigned
	raw, has := files[signaturesFile]
	var sc bundle.SignaturesConfig
	if has {
		s.State = rulebook.Unverified
		if s.Algorithm, s.KeyID, sc, err = readSignature(raw); err != nil {
			return s, fmt.Errorf("%s: %w", signaturesFile, err)
		}
	}
	switch {
	case trust.Required && len(trust.Keys) == 0:
		return s, errors.New("a signature is required and no key is trusted")
	case trust.Required && !has:
		return s, errors.New("it is unsigned, and signatures are required")
	case !has || len(trust.Keys) == 0:
		// The digests come first: they say which file is at fault.
		if _, err := readManifest(files); err != nil {
			return s, err
		}
		return s, read(nil)
	}
	var tried []string
	for _, k := range trust.Keys {
		if k.Algorithm != s.Algorithm {
			tried = append(tried, fmt.Sprintf("%s is for %s", k.File, k.Algorithm))
			continue
		}
		with := bundle.NewVerificationConfig(map[string]*bundle.KeyConfig{s.KeyID: {Key: k.text, Algorithm: k.Algorithm}}, s.KeyID, "", nil)
		of, err := bundle.VerifyBundleSignature(sc, with)
		if err != nil {
			tried = append(tried, fmt.Sprintf("%s did not make it", k.File))
			continue
		}
		if err := read(with); err != nil {
			return s, tampered(files, of, err)
		}
		s.State, s.By = rulebook.Verified, k.File
		return s, nil
	}
	return s, fmt.Errorf("its signature (%s, key id %s) is not by a trusted key, or was tampered with: %s", s.Algorithm, s.KeyID, strings.Join(tried, "; "))
}

// tampered says which files are not as they were signed, in order of name, or else what the policy engine said.
func tampered(files Folder, of map[string]bundle.FileInfo, said error) error {
	var bad []string
	for _, name := range files.names() {
		_, listed := of[name]
		switch {
		case name == signaturesFile:
		case !listed:
			bad = append(bad, name+" was not there when it was signed")
		case bundle.VerifyBundleFile(name, *bytes.NewBuffer(files[name]), of) != nil:
			bad = append(bad, name+": digest mismatch")
		}
		delete(of, name)
	}
	var gone []string
	for name := range of {
		gone = append(gone, fmt.Sprintf("%q is missing", name))
	}
	slices.Sort(gone)
	if bad = append(bad, gone...); len(bad) == 0 {
		return said
	}
	return errors.New("it is not what was signed: " + list(bad))
}

// list joins what is wrong, the first of it.
func list(bad []string) string {
	const most = 5
	if n := len(bad) - most; n > 0 {
		bad = append(slices.Clone(bad[:most]), fmt.Sprintf("and %d more", n))
	}
	return strings.Join(bad, "; ")
}

// readSignature reads the one signature of a sealed rulebook and sees that it is written in the one way in which it can be. It does not verify it.
func readSignature(raw []byte) (alg, id string, sc bundle.SignaturesConfig, err error) {
	if err := json.Unmarshal(raw, &sc); err != nil {
		return "", "", sc, fmt.Errorf("cannot be read: %w", err)
	}
	if same, err := json.Marshal(sc); err != nil || !bytes.Equal(same, raw) || len(sc.Signatures) != 1 || sc.Plugin != "" {
		return "", "", sc, errors.New("is not as it was sealed")
	}
	tokens := strings.Split(sc.Signatures[0], ".")
	if len(tokens) != 3 {
		return "", "", sc, errors.New("holds no signature in the compact form")
	}
	var head struct {
		Alg string `json:"alg"`
		Kid string `json:"kid"`
	}
	for i, t := range tokens {
		b, err := base64.RawURLEncoding.Strict().DecodeString(t)
		if err == nil && i == 0 {
			err = json.Unmarshal(b, &head)
		}
		if err != nil {
			return "", "", sc, fmt.Errorf("cannot be read: %w", err)
		}
	}
	if head.Alg != ES256 && head.Alg != EdDSA {
		return "", "", sc, fmt.Errorf("is signed by %q; rulebooks are signed by ES256 or EdDSA", head.Alg)
	}
	if !keyID.MatchString(head.Kid) {
		return "", "", sc, fmt.Errorf("names the key %q, which is no key id", head.Kid)
	}
	return head.Alg, head.Kid, sc, nil
}

// readManifest reads the manifest and holds every file against its digest.
func readManifest(files Folder) (m sealedManifest, err error) {
	raw, ok := files[manifestFile]
	if !ok {
		return m, fmt.Errorf("it is no sealed rulebook: there is no %s in it", manifestFile)
	}
	d := json.NewDecoder(bytes.NewReader(raw))
	if err := d.Decode(&m); err != nil {
		return m, fmt.Errorf("%s cannot be read: %w", manifestFile, err)
	}
	if m.Metadata.Format != SealedFormat {
		return m, fmt.Errorf("it is sealed in the format %d; this program reads the format %d", m.Metadata.Format, SealedFormat)
	}
	if same, err := m.bytes(); err != nil || !bytes.Equal(same, raw) {
		return m, fmt.Errorf("%s: digest mismatch: it does not belong to the revision that it names", manifestFile)
	}
	var bad []string
	for _, name := range files.names() {
		want, listed := m.Metadata.Digests[name]
		switch {
		case name == manifestFile || name == signaturesFile:
		case !listed:
			bad = append(bad, name+" was not there when it was sealed")
		case want != digest(files[name]):
			bad = append(bad, name+": digest mismatch")
		}
	}
	var gone []string
	for name := range m.Metadata.Digests {
		if _, ok := files[name]; !ok {
			gone = append(gone, fmt.Sprintf("%q is missing", name))
		}
	}
	slices.Sort(gone)
	if bad = append(bad, gone...); len(bad) > 0 {
		return m, errors.New("it is not what was sealed: " + list(bad))
	}
	return m, nil
}

// Facts writes what policies see of a job as JSON: the measures by kind and column, which of them are unknown, and the stage. It is the input for a
// policy server that holds a sealed rulebook. The cells in doubt are left out; without them policies look at every one.
func Facts(set *measure.Set, stage rulebook.Stage) ([]byte, error) {
	v, err := ast.JSON(names{}.input(&terms{}, set.Full().Tables, stage, nil, nil))
	if err != nil {
		return nil, err
	}
	return json.Marshal(v)
}
