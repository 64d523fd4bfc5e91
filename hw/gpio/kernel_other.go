//go:build !linux

package gpio

import "errors"

func systemKernel() kernel { return noKernel{} }

var errNoKernel = errors.New("this operating system has no GPIO character device")

// noKernel stands where there is no GPIO; periph finds no chip there either,
// so that Open refuses before it gets this far.
type noKernel struct{}

func (noKernel) Request(request) (int, error)        { return -1, errNoKernel }
func (noKernel) Devices() ([]string, error)          { return nil, nil }
func (noKernel) Chip(string) (string, uint32, error) { return "", 0, errNoKernel }
func (noKernel) Info(lineID) (lineInfo, error)       { return lineInfo{}, errNoKernel }
func (noKernel) Get(int, int) (uint64, error)        { return 0, errNoKernel }
func (noKernel) Set(int, bool) error                 { return errNoKernel }
func (noKernel) Close(int) error                     { return errNoKernel }
