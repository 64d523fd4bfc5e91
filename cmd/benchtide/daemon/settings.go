package daemon

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/rogpeppe/go-internal/diff"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/ledger"
)

// noteSettings puts a version of the site's file that is new into the ledger:
// the SHA-256 of its text, and what differs from the version before.
func (k *kept) noteSettings(ctx context.Context, v version, at time.Time) error {
	path := filepath.Join(k.dir, ledger.SettingsName)
	before, err := os.ReadFile(path)
	change := string(v.text)
	switch {
	case err == nil && string(before) == change:
		return nil
	case err == nil:
		change = string(diff.Diff("before", before, "now", v.text))
	case !errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("compare the file with the version before: %w", err)
	}
	sum := sha256.Sum256(v.text)
	ctx, cancel := context.WithTimeout(ctx, ledger.Grace)
	defer cancel()
	entry := ledger.Settings{At: ledger.When{Time: at}, Fingerprint: hex.EncodeToString(sum[:]), Diff: change}
	if err := k.ledger.Add(ctx, entry); err != nil {
		return err
	}
	if err := k.noteBaselines(ctx, before, at); err != nil {
		return err
	}
	if err := cli.ReplaceFile(path, v.text); err != nil {
		return fmt.Errorf("keep the version in force: %w", err)
	}
	return nil
}
