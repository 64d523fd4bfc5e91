package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"io/fs"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestOnlyThisMachineIsServedUnlessUsersNameThemselves(t *testing.T) {
	dir := t.TempDir()
	cert, key := certificate(t, dir)
	config := func(text string) string {
		path := filepath.Join(t.TempDir(), "web.yaml")
		require.NoError(t, os.WriteFile(path, []byte(strings.NewReplacer("CERT", cert, "KEY", key).Replace(text)), 0o600))
		return path
	}
	const (
		tlsOnly   = "tls_server_config: {cert_file: CERT, key_file: KEY}\n"
		users     = "basic_auth_users: {gardener: " + hashed + "}\n"
		byCert    = "tls_server_config: {cert_file: CERT, key_file: KEY, client_ca_file: CERT, client_auth_type: RequireAndVerifyClientCert}\n"
		byAnyCert = "tls_server_config: {cert_file: CERT, key_file: KEY, client_auth_type: RequestClientCert}\n"
	)
	for _, c := range []struct {
		listen, config string
		refused        string
	}{
		{"127.0.0.1:0", "", ""},
		{"localhost:0", "", ""},
		{"[::1]:0", "", ""},
		{"127.0.0.1:0", tlsOnly, ""},
		{":0", "", "other machines could flood a bench"},
		{"0.0.0.0:0", "", "other machines could flood a bench"},
		{"greenhouse:0", "", "other machines could flood a bench"},
		{":0", tlsOnly, "it needs a certificate"},
		{":0", users, "it needs a certificate"},
		{":0", byAnyCert, "it needs a certificate"},
		{":0", tlsOnly + users, ""},
		{":0", byCert, ""},
		{"127.0.0.1:0", "basic_auth_users: {gardener: plain}\n", "web configuration"},
		{"127.0.0.1:0", "users: {}\n", "web configuration"},
	} {
		f := listenFlags{Listen: c.listen}
		if c.config != "" {
			f.WebConfig = config(c.config)
		}
		err := f.check()
		if c.refused == "" {
			assert.NoError(t, err, "%s with %q", c.listen, c.config)
			continue
		}
		assert.ErrorContains(t, err, c.refused, "%s with %q", c.listen, c.config)
		assert.ErrorAs(t, err, new(usageError))
	}
}

// hashed is the bcrypt hash, at the least cost, of the password below.
const (
	password = "watering can"
	hashed   = `'$2a$04$WVERHPkzHm9.x13mBVFBze4EmTd5Wqh/ztgm9D2KoiCAj82Bzoymi'`
)

func TestAnAddressWithUsersAsksEachForHisName(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	cert, key := certificate(t, dir)
	config := filepath.Join(dir, "web.yaml")
	text := "tls_server_config: {cert_file: " + cert + ", key_file: " + key + "}\nbasic_auth_users: {gardener: " + hashed + "}\n"
	require.NoError(t, os.WriteFile(config, []byte(text), 0o600))
	p := start(t, "demo", "--listen", "0.0.0.0:0", "--web-config", config, "--state", filepath.Join(dir, "state"))
	_, port, err := net.SplitHostPort(strings.TrimSuffix(strings.TrimPrefix(p.until(metricsAt), "http://"), "/metrics"))
	require.NoError(t, err)

	pool := x509.NewCertPool()
	pemText, err := os.ReadFile(cert)
	require.NoError(t, err)
	require.True(t, pool.AppendCertsFromPEM(pemText))
	client := http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}}}
	code := func(path, user, pass string) int {
		q, err := http.NewRequest(http.MethodGet, "https://127.0.0.1:"+port+path, nil)
		require.NoError(t, err)
		if user != "" {
			q.SetBasicAuth(user, pass)
		}
		response, err := client.Do(q)
		require.NoError(t, err)
		defer response.Body.Close()
		return response.StatusCode
	}
	for _, path := range []string{"/metrics", "/api/v1/status"} {
		assert.Equal(t, http.StatusUnauthorized, code(path, "", ""), path)
		assert.Equal(t, http.StatusUnauthorized, code(path, "gardener", "guess"), path)
		assert.Equal(t, http.StatusOK, code(path, "gardener", password), path)
	}
	assert.Equal(t, 0, p.end(os.Interrupt))
}

func TestTheSocketIsForTheDaemonsUserAndGroupAndOutlivesAKill(t *testing.T) {
	path := filepath.Join(t.TempDir(), "s")
	first, err := listenSocket(path)
	require.NoError(t, err)
	info, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, fs.FileMode(0o660), info.Mode().Perm())

	_, err = listenSocket(path)
	assert.ErrorContains(t, err, "another benchtide answers there")

	first.(*net.UnixListener).SetUnlinkOnClose(false) // as a kill leaves it
	require.NoError(t, first.Close())
	second, err := listenSocket(path)
	require.NoError(t, err)
	require.NoError(t, second.Close())

	require.NoError(t, os.WriteFile(path, []byte("mine"), 0o600))
	_, err = listenSocket(path)
	assert.ErrorContains(t, err, "give --socket PATH")
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "mine", string(kept), "a file that is no socket is not ours to remove")
}

// certificate writes a self-signed certificate of this machine and its key.
func certificate(t *testing.T, dir string) (cert, key string) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &private.PublicKey, private)
	require.NoError(t, err)
	keyDER, err := x509.MarshalPKCS8PrivateKey(private)
	require.NoError(t, err)
	cert, key = filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	require.NoError(t, os.WriteFile(cert, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600))
	require.NoError(t, os.WriteFile(key, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: keyDER}), 0o600))
	return cert, key
}
