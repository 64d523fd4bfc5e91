//go:build boardtest

package boardtest

import (
	"compress/gzip"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

// diskModules bring up the SD card and ext4, in the order of their needs.
var diskModules = []string{
	"crc16", "crc32c_generic", "libcrc32c", "mbcache", "jbd2", "ext4",
	"sdhci", "sdhci-pltfm", "sdhci-iproc", "bcm2835",
}

// busModules bring up a bus whose other end is a program.
var busModules = []string{"i2c-taos-evm"}

// kit is what every machine of a run is made from.
type kit struct {
	kernel, tree string // tree is the device tree
	initrd       string
}

// findKit makes the kit from the unpacked kernel package and the two programs,
// with its files in dir.
func findKit(kernelRoot, initProgram, program, dir string) (kit, error) {
	kernel, err := only(filepath.Join(kernelRoot, "boot", "vmlinuz-*"))
	if err != nil {
		return kit{}, err
	}
	version := strings.TrimPrefix(filepath.Base(kernel), "vmlinuz-")
	k := kit{
		kernel: kernel,
		tree:   filepath.Join(kernelRoot, "usr/lib/linux-image-"+version, "broadcom/bcm2837-rpi-3-b.dtb"),
		initrd: filepath.Join(dir, "initrd.gz"),
	}
	root := filepath.Join(dir, "root")
	files := map[string]string{"init": initProgram, "usr/bin/benchtide": program}
	for _, m := range slices.Concat(diskModules, busModules) {
		from, err := moduleFile(kernelRoot, version, m)
		if err != nil {
			return kit{}, err
		}
		files[filepath.Join("modules", m+".ko")] = from
	}
	for to, from := range files {
		if err := copyProgram(from, filepath.Join(root, to)); err != nil {
			return kit{}, err
		}
	}
	return k, pack(root, k.initrd)
}

func only(pattern string) (string, error) {
	found, err := filepath.Glob(pattern)
	if err != nil {
		return "", err
	}
	if len(found) != 1 {
		return "", fmt.Errorf("look for %s: want one file, found %q", pattern, found)
	}
	return found[0], nil
}

// moduleFile finds a module by name. Two drivers are called bcm2835; the one
// wanted is the SD host's.
func moduleFile(kernelRoot, version, name string) (string, error) {
	kernel := filepath.Join(kernelRoot, "lib/modules", version, "kernel")
	if name == "bcm2835" {
		return filepath.Join(kernel, "drivers/mmc/host/bcm2835.ko"), nil
	}
	out, err := exec.Command("find", kernel, "-name", name+".ko").Output()
	if err != nil {
		return "", fmt.Errorf("look for module %q: %w", name, err)
	}
	found := strings.Fields(string(out))
	if len(found) != 1 {
		return "", fmt.Errorf("look for module %q: want one file, found %q", name, found)
	}
	return found[0], nil
}

func copyProgram(from, to string) error {
	b, err := os.ReadFile(from)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
		return err
	}
	return os.WriteFile(to, b, 0o755)
}

// pack makes the initial file system of root.
func pack(root, to string) error {
	f, err := os.Create(to)
	if err != nil {
		return err
	}
	defer f.Close()
	z, err := gzip.NewWriterLevel(f, gzip.BestSpeed)
	if err != nil {
		return err
	}
	cmd := exec.Command("sh", "-c", "find . | cpio -o -H newc --quiet")
	cmd.Dir, cmd.Stdout, cmd.Stderr = root, z, os.Stderr
	if err := cmd.Run(); err != nil {
		return fmt.Errorf("pack %s: %w", to, err)
	}
	if err := z.Close(); err != nil {
		return err
	}
	return f.Close()
}

// newCard makes an empty SD card. Its size is a power of two, as the emulator
// wants it.
func newCard(path string) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := f.Truncate(64 << 20); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	out, err := exec.Command("/sbin/mkfs.ext4", "-q", "-O", "^metadata_csum_seed", path).CombinedOutput()
	if err != nil {
		return fmt.Errorf("make the file system of %s: %w: %s", path, err, out)
	}
	return nil
}
