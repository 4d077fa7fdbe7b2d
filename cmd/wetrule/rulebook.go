package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"wetrule/lint"
	"wetrule/lint/report"
)

// The commands for rulebooks that are sealed into one file.

func (a *app) bookSeal() *cobra.Command {
	var o lint.SealOptions
	var output string
	c := &cobra.Command{
		Use:   "seal FOLDER -o FILE.tar.gz",
		Short: "Pack a rulebook into one file, signed when a key is given",
		Long: "Packs a rulebook into one file that --rulebook takes in place of the folder. The file is also a bundle for an OPA policy server:\n" +
			"it holds the rules of one edition, laid over core and the rulebooks of --rulebook, and answers data.wetrule.sealed.findings for\n" +
			"the facts of a job (wetrule measures JOB -r FILE.tar.gz -f policy). The same input gives the same bytes.\n\n" +
			"Keys are in PEM: P-256 (ES256) or Ed25519 (EdDSA). OPA servers take no EdDSA key in their configuration; use P-256 for them.",
		Example: "  openssl ecparam -name prime256v1 -genkey -noout -out desk.pem\n" +
			"  openssl ec -in desk.pem -pubout -out desk.pub.pem\n" +
			"  wetrule rulebook seal house -o house.tar.gz --key desk.pem --key-id desk-2026\n" +
			"  wetrule review room.yaml -r house.tar.gz --require-signatures --trust desk.pub.pem",
		Args: cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if output == "" || output == lint.Stdin {
				return errors.New("say into which file: -o FILE.tar.gz")
			}
			if !strings.HasSuffix(output, ".tar.gz") {
				return fmt.Errorf("%s does not end in .tar.gz", output)
			}
			data, s, leftOut, err := lint.SealRulebook(args[0], o)
			if err != nil {
				return err
			}
			if len(leftOut) > 0 {
				fmt.Fprintf(a.stderr, "wetrule: left out as no part of a rulebook: %s\n", strings.Join(leftOut, ", "))
			}
			if err := a.to(output, func(w io.Writer) error { _, err := w.Write(data); return err }); err != nil {
				return err
			}
			by := "unsigned"
			if s.Signed.KeyID != "" {
				by = fmt.Sprintf("signed (%s, key id %s)", s.Signed.Algorithm, s.Signed.KeyID)
			}
			fmt.Fprintf(a.stdout, "%s: %s %s, revision %s, %s\n", output, s.Name, s.Edition, s.Revision, by)
			return nil
		},
	}
	f := c.Flags()
	f.StringVarP(&output, "output", "o", "", "write to this file (.tar.gz)")
	f.StringArrayVarP(&o.Over, "rulebook", "r", nil, "for a policy server, lay it over this rulebook too: a name, a folder or a sealed one (may be repeated)")
	f.StringVar(&o.On, "on", "", "for a policy server, in the edition of this date (YYYY-MM-DD); the latest by default")
	f.StringVar(&o.Key, "key", "", "sign with this private key (PEM)")
	f.StringVar(&o.KeyID, "key-id", "", "name of the key for those who verify; by default made from the public key")
	return c
}

func (a *app) bookOpen() *cobra.Command {
	var format string
	var o lint.Options
	c := &cobra.Command{
		Use:   "open FILE.tar.gz",
		Short: "Open a sealed rulebook: name, edition, revision, signature and files",
		Args:  cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			s, err := lint.DescribeSealed(args[0], o.Trust, o.RequireSignatures)
			if err != nil {
				return err
			}
			return report.Sealed(a.stdout, format, s)
		},
	}
	formatFlag(c, &format)
	signatureFlags(c, &o)
	return c
}

func signatureFlags(c *cobra.Command, o *lint.Options) {
	c.Flags().StringArrayVar(&o.Trust, "trust", nil, "a public key (PEM) whose signatures count (may be repeated)")
	c.Flags().BoolVar(&o.RequireSignatures, "require-signatures", false, "refuse rulebooks that no trusted key has signed")
}
