package main

import (
	"bufio"
	"fmt"
	"os"
	"runtime"
	"strings"
	"time"
)

// machine says on what the figures were measured, and when.
func machine() string {
	kernel, _ := os.ReadFile("/proc/sys/kernel/osrelease") // what cannot be read is left out
	return fmt.Sprintf("%s, %d processors, Linux %s, %s, %s", model(), processors(), strings.TrimSpace(string(kernel)), runtime.Version(), time.Now().UTC().Format("2 January 2006"))
}

func model() string {
	f, err := os.Open("/proc/cpuinfo")
	if err != nil {
		return runtime.GOARCH
	}
	defer f.Close()
	for lines := bufio.NewScanner(f); lines.Scan(); {
		if key, value, ok := strings.Cut(lines.Text(), ":"); ok && strings.TrimSpace(key) == "model name" {
			return strings.TrimSpace(value)
		}
	}
	return runtime.GOARCH
}

func processors() int { return runtime.NumCPU() }

// load is how many programs wanted a processor in the last minute.
func load() string {
	data, err := os.ReadFile("/proc/loadavg")
	if err != nil {
		return "unknown"
	}
	first, _, _ := strings.Cut(string(data), " ")
	return first
}
