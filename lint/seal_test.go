package lint

import (
	"context"
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/json"
	"encoding/pem"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// newKey writes a key and its public key into the working folder.
func newKey(t *testing.T, name string) {
	t.Helper()
	k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	write := func(file, sort string, der []byte, err error) {
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(file, pem.EncodeToMemory(&pem.Block{Type: sort, Bytes: der}), 0o600))
	}
	der, err := x509.MarshalECPrivateKey(k)
	write(name+".pem", "EC PRIVATE KEY", der, err)
	der, err = x509.MarshalPKIXPublicKey(crypto.Signer(k).Public())
	write(name+".pub.pem", "PUBLIC KEY", der, err)
}

// verdictsOf lists everything that a review says, without the paths of the files of its rules.
func verdictsOf(r *verdict.Review) (out []string) {
	for _, v := range r.Verdicts {
		line, _ := json.Marshal([]any{v.Rule.ID, v.Subject.ID, v.Outcome.String(), v.Reason(), v.Rule.Title, v.Rule.Severity.String(), v.Rule.LimitBy(), v.Rule.AllowedText(), v.Rule.Source.String(), v.Rule.Def.Format(*v.Value)})
		out = append(out, string(line))
	}
	return append(out, r.Notices...)
}

// TestSealedRulebookJudgesAsItsFolderDoes reviews the demo by a folder and by the sealed rulebook made from it, on days of several editions.
func TestSealedRulebookJudgesAsItsFolderDoes(t *testing.T) {
	demo, err := filepath.Abs("../fixtures/demo")
	require.NoError(t, err)
	dir := book(t, "house", "firm", `rules:
`+houseRow("low", "measure: outlet_height_mm, allowed: {at_most: 255}, in_force: {from: \"2026-03-01\"}")+`amendments:
  - {rule: steam-outlet-height, change: tighten, title: Steam enters 261 to 270 mm above the floor, allowed: {between: [261, 270]}, reason: Our outlets have a low jet.}
  - {rule: build-up-order, change: off, reason: Ours.}
`)
	require.NoError(t, os.Mkdir(filepath.Join(dir, "rego"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "rego", "words.rego"), []byte("package house.words\n\nplain := [\"mesh\"]\n"), 0o600))
	t.Chdir(filepath.Dir(dir))
	newKey(t, "desk")
	data, s, leftOut, err := SealRulebook("house", SealOptions{Key: "desk.pem", KeyID: "desk-2026", On: "2026-06-30", Over: []string{"regions/gb"}})
	require.NoError(t, err)
	require.Empty(t, leftOut)
	require.Equal(t, []string{"core", "regions/gb", "house"}, []string{s.Layers[0].Rulebook, s.Layers[1].Rulebook, s.Layers[2].Rulebook})
	require.NoError(t, os.WriteFile("house.tar.gz", data, 0o600))
	again, _, _, err := SealRulebook("./house/", SealOptions{Key: "desk.pem", KeyID: "desk-2026", On: "2026-06-30", Over: []string{"regions/gb"}})
	require.NoError(t, err)
	require.Equal(t, data, again, "however the folder is written")
	for _, on := range []string{"2026-02-28", "2026-03-01", ""} {
		byFolder, err := New(Options{Rulebooks: []string{"house"}, On: on})
		require.NoError(t, err)
		bySeal, err := New(Options{Rulebooks: []string{"house.tar.gz"}, On: on, RequireSignatures: true, Trust: []string{"desk.pub.pem"}})
		require.NoError(t, err)
		for _, name := range []string{"clean.yaml", "faults.yaml"} {
			text, err := os.ReadFile(filepath.Join(demo, name))
			require.NoError(t, err)
			want, err := byFolder.Review(context.Background(), name, text)
			require.NoError(t, err)
			got, err := bySeal.Review(context.Background(), name, text)
			require.NoError(t, err)
			require.Empty(t, want.Problems)
			require.Greater(t, len(want.Verdicts), 100)
			require.Equal(t, verdictsOf(want), verdictsOf(got))
			require.Equal(t, want.Books, got.Books)
			require.Equal(t, want.Counts, got.Counts)
			facts, err := Facts(got)
			require.NoError(t, err)
			require.True(t, json.Valid(facts))
		}
	}
}

func TestRequiredSignatures(t *testing.T) {
	dir := book(t, "house", "firm", "amendments: [{rule: steam-outlet-height, change: off, reason: We set no outlets.}]\n")
	t.Chdir(filepath.Dir(dir))
	newKey(t, "desk")
	newKey(t, "other")
	seal := func(file string, o SealOptions) []byte {
		data, _, _, err := SealRulebook("house", o)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(file, data, 0o600))
		return data
	}
	seal("unsigned.tar.gz", SealOptions{})
	seal("other.tar.gz", SealOptions{Key: "other.pem"})
	good := seal("good.tar.gz", SealOptions{Key: "desk.pem"})
	seal("named-otherwise", SealOptions{Key: "desk.pem"})
	bad := append([]byte(nil), good...)
	bad[len(bad)/2] ^= 1
	require.NoError(t, os.WriteFile("bad.tar.gz", bad, 0o600))
	require.NoError(t, os.WriteFile("text.tar.gz", []byte("no archive"), 0o600))
	require.NoError(t, os.Mkdir("folder.tar.gz", 0o755))
	required := func(book string) Options {
		return Options{Rulebooks: []string{book}, RequireSignatures: true, Trust: []string{"desk.pub.pem"}}
	}
	for name, tc := range map[string]struct {
		o    Options
		says string
	}{
		"unsigned":         {required("unsigned.tar.gz"), "unsigned.tar.gz is refused: it is unsigned, and signatures are required"},
		"another's":        {required("other.tar.gz"), "is not by a trusted key, or was tampered with: desk.pub.pem did not make it"},
		"tampered":         {required("bad.tar.gz"), "bad.tar.gz is refused: "},
		"folder":           {required("house"), "rulebook house is refused: it is a folder, which carries no signature, and signatures are required"},
		"sealed folder":    {required("folder.tar.gz"), "rulebook folder.tar.gz is refused: it is a folder"},
		"tampered, no key": {Options{Rulebooks: []string{"bad.tar.gz"}}, "bad.tar.gz is refused: "},
		"text":             {Options{Rulebooks: []string{"text.tar.gz"}}, "text.tar.gz is refused: it is no gzip archive"},
		"no trust":         {Options{RequireSignatures: true}, "signatures are required and no key is trusted; name a public key with --trust"},
		"no key file":      {Options{Trust: []string{"none.pem"}}, "key none.pem cannot be read: no such file or directory"},
		"private key":      {Options{Trust: []string{"desk.pem"}}, "desk.pem holds a private key"},
		"key is a folder":  {Options{Trust: []string{"house"}}, "key house cannot be read: it is no regular file"},
	} {
		_, err := New(tc.o)
		require.ErrorContains(t, err, tc.says, name)
	}
	for _, o := range []Options{required("good.tar.gz"), required("named-otherwise"), required("regions/gb"), {Rulebooks: []string{"unsigned.tar.gz"}, Trust: []string{"desk.pub.pem"}}} {
		_, err := New(o)
		require.NoError(t, err, "%v", o.Rulebooks)
	}
}

func TestSealingAsksForWhatGoesTogether(t *testing.T) {
	dir := book(t, "house", "firm", "amendments: [{rule: steam-outlet-height, change: off, reason: r}]\n")
	t.Chdir(filepath.Dir(dir))
	newKey(t, "desk")
	data, _, _, err := SealRulebook("house", SealOptions{})
	require.NoError(t, err)
	require.NoError(t, os.WriteFile("house.tar.gz", data, 0o600))
	for _, tc := range []struct {
		name string
		o    SealOptions
		says string
	}{
		{"house", SealOptions{On: "tomorrow"}, `"tomorrow" is not a date`},
		{"house", SealOptions{KeyID: "k"}, "a key id goes with a key"},
		{"house", SealOptions{Key: "desk.pub.pem"}, "holds a public key"},
		{"house", SealOptions{Key: "none.pem"}, "key none.pem cannot be read"},
		{"house", SealOptions{Over: []string{"house"}}, "the rulebook house is given twice"},
		{"house.tar.gz", SealOptions{}, "house.tar.gz is sealed already"},
		{"nowhere/", SealOptions{}, "nowhere/ cannot be read"},
	} {
		_, _, _, err := SealRulebook(tc.name, tc.o)
		require.ErrorContains(t, err, tc.says)
	}
	require.NoError(t, os.Mkdir(filepath.Join(dir, "examples"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "examples", "a.yaml"), []byte("examples: [{rule: nothing}]\n"), 0o600))
	_, _, _, err = SealRulebook("house", SealOptions{})
	require.ErrorContains(t, err, "house/examples/a.yaml:1:")
	// What comes with the program can be sealed for a policy server.
	for name, layers := range map[string]string{"core": "core", "regions/gb": "core regions/gb"} {
		_, s, _, err := SealRulebook(name, SealOptions{})
		require.NoError(t, err)
		require.Equal(t, rulebook.Unsigned, s.Signed.State)
		var got []string
		for _, l := range s.Layers {
			got = append(got, l.Rulebook)
		}
		require.Equal(t, layers, strings.Join(got, " "))
	}
}
