package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"os"
	"os/exec"
	"strconv"

	"github.com/rogpeppe/go-internal/testscript"
)

// scriptCommands are what scripts need beside wetrule.
var scriptCommands = map[string]func(*testscript.TestScript, bool, []string){
	// newkey NAME makes NAME.pem and NAME.pub.pem, a key on the curve P-256.
	"newkey": func(ts *testscript.TestScript, _ bool, args []string) {
		k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
		ts.Check(err)
		private, err := x509.MarshalPKCS8PrivateKey(k)
		ts.Check(err)
		public, err := x509.MarshalPKIXPublicKey(&k.PublicKey)
		ts.Check(err)
		ts.Check(os.WriteFile(ts.MkAbs(args[0]+".pem"), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: private}), 0o600))
		ts.Check(os.WriteFile(ts.MkAbs(args[0]+".pub.pem"), pem.EncodeToMemory(&pem.Block{Type: "PUBLIC KEY", Bytes: public}), 0o600))
	},
	// flip FROM TO copies a file with one bit in its middle flipped.
	"flip": func(ts *testscript.TestScript, _ bool, args []string) {
		data, err := os.ReadFile(ts.MkAbs(args[0]))
		ts.Check(err)
		data[len(data)/2] ^= 1
		ts.Check(os.WriteFile(ts.MkAbs(args[1]), data, 0o600))
	},
	// status N PROGRAM... demands an exit status.
	"status": func(ts *testscript.TestScript, _ bool, args []string) {
		want, err := strconv.Atoi(args[0])
		ts.Check(err)
		err = ts.Exec(args[1], args[2:]...)
		got := 0
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			got = exit.ExitCode()
		} else {
			ts.Check(err)
		}
		if got != want {
			ts.Fatalf("exit status %d instead of %d", got, want)
		}
	},
}
