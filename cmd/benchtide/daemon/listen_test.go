package daemon

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"io"
	"io/fs"
	"log/slog"
	"math/big"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/cmd/benchtide/cli"
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
		assert.ErrorAs(t, err, new(cli.UsageError))
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
	_, port, err := net.SplitHostPort(strings.TrimSuffix(strings.TrimPrefix(p.until(metricsAt), "https://"), "/metrics"))
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

// tokenFile writes a token as its remedy says.
func tokenFile(t *testing.T, text string, mode fs.FileMode) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "token")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	require.NoError(t, os.Chmod(path, mode))
	return path
}

const siteToken = "tJ4rZ0cV7yQm2nXb8sLw"

func TestATokenOpensAnAddressToOtherMachines(t *testing.T) {
	for _, c := range []struct {
		text    string
		mode    fs.FileMode
		refused string
	}{
		{siteToken + "\n", 0o600, ""},
		{siteToken, 0o640, ""},
		{siteToken, 0o644, "chmod o="},
		{"short", 0o600, "at least 16 characters"},
		{"", 0o600, "at least 16 characters"},
		{"two words of length", 0o600, "one word"},
	} {
		f := listenFlags{Listen: "0.0.0.0:0", TokenFile: tokenFile(t, c.text, c.mode)}
		err := f.check()
		if c.refused == "" {
			assert.NoError(t, err)
			continue
		}
		assert.ErrorContains(t, err, c.refused, "%q", c.text)
		assert.NotContains(t, err.Error(), "two words")
	}
	assert.ErrorContains(t, listenFlags{Listen: "127.0.0.1:0", TokenFile: "/nowhere/token"}.check(), "head -c 24")
}

func TestATokenIsAskedForAndToldToNobody(t *testing.T) {
	t.Parallel()
	p := start(t, "demo", "--listen", "0.0.0.0:0", "--token-file", tokenFile(t, siteToken, 0o600), "--open", "metrics", "--socket", filepath.Join(t.TempDir(), "s"))
	_, port, err := net.SplitHostPort(strings.TrimSuffix(strings.TrimPrefix(p.until(metricsAt), "http://"), "/metrics"))
	require.NoError(t, err)
	get := func(path, token string) (int, string) {
		q, err := http.NewRequest(http.MethodGet, "http://127.0.0.1:"+port+path, nil)
		require.NoError(t, err)
		if token != "" {
			q.Header.Set("Authorization", "Bearer "+token)
		}
		response, err := http.DefaultClient.Do(q)
		require.NoError(t, err)
		defer response.Body.Close()
		body, err := io.ReadAll(response.Body)
		require.NoError(t, err)
		return response.StatusCode, string(body)
	}
	const guess = "aGuessThatIsWrong"
	shown := ""
	for _, c := range []struct {
		path, token string
		code        int
	}{
		{"/api/v1/status", "", 401}, {"/api/v1/status", guess, 401}, {"/api/v1/status", siteToken, 200},
		{"/metrics", "", 200}, {"/api/v1/export", "", 401}, {"/api/v1/export?table=settings", siteToken, 200}, {"/api/v1/session", "", 200},
	} {
		code, body := get(c.path, c.token)
		assert.Equal(t, c.code, code, "%s with %q", c.path, c.token)
		shown += body
	}
	assert.Equal(t, 0, p.end(os.Interrupt))
	said := strings.Join(p.said, "\n") + shown
	assert.Contains(t, said, "a log-in failed")
	assert.NotContains(t, said, siteToken)
	assert.NotContains(t, said, guess)
}

// knock asks a door without a name, as a user, or with the token.
func knock(h http.Handler, change func(*http.Request)) int {
	q := httptest.NewRequest(http.MethodGet, "http://192.0.2.9/api/v1/status", nil)
	change(q)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, q)
	return w.Code
}

func TestUsersThatAreTakenOutOfTheFileShutTheAddress(t *testing.T) {
	path := filepath.Join(t.TempDir(), "web.yaml")
	config := func(text string) { require.NoError(t, os.WriteFile(path, []byte(text), 0o600)) }
	config("basic_auth_users: {gardener: " + hashed + "}\n")
	f := listenFlags{Listen: "127.0.0.1:0", WebConfig: path}
	door, err := f.door(slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	yes := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusOK) })
	nobody := func(*http.Request) {}
	assert.Equal(t, http.StatusOK, knock(door(yes, yes), nobody), "the check of the users is the toolkit's")
	for _, text := range []string{"{}\n", "", "basic_auth_users: {}\n", "not yaml: ["} {
		config(text)
		assert.Equal(t, http.StatusServiceUnavailable, knock(door(yes, yes), nobody), "%q", text)
	}
}

func TestHTTP2ThatIsAskedForIsSaidToStayOff(t *testing.T) {
	path := filepath.Join(t.TempDir(), "web.yaml")
	for config, said := range map[string]bool{
		"http_server_config: {http2: true}\n":  true,
		"http_server_config: {http2: false}\n": false,
		"{}\n":                                 false,
	} {
		require.NoError(t, os.WriteFile(path, []byte(config), 0o600))
		var log strings.Builder
		_, err := listenFlags{WebConfig: path}.door(slog.New(slog.NewTextHandler(&log, nil)))
		require.NoError(t, err)
		assert.Equal(t, said, strings.Contains(log.String(), "http2 is asked for and stays off"), config)
	}
}

func TestAnAddressIsToldAsAnotherMachineWritesIt(t *testing.T) {
	name, err := os.Hostname()
	require.NoError(t, err)
	for ip, want := range map[string]string{"127.0.0.1": "127.0.0.1:8347", "192.0.2.7": "192.0.2.7:8347", "0.0.0.0": name + ":8347", "::": name + ":8347"} {
		assert.Equal(t, want, external(&net.TCPAddr{IP: net.ParseIP(ip), Port: 8347}))
	}
}

func TestAnAddressThatNobodyGuardsAnswersNoForeignName(t *testing.T) {
	limits := filepath.Join(t.TempDir(), "web.yaml")
	require.NoError(t, os.WriteFile(limits, []byte("rate_limit: {interval: 1s, burst: 20}\n"), 0o600))
	yes := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusOK) })
	for name, f := range map[string]listenFlags{"alone": {}, "with limits": {WebConfig: limits}} {
		door, err := f.door(slog.New(slog.DiscardHandler))
		require.NoError(t, err)
		assert.Equal(t, http.StatusMisdirectedRequest, knock(door(yes, yes), func(q *http.Request) { q.Host = "elsewhere.example" }), name)
		assert.Equal(t, http.StatusOK, knock(door(yes, yes), func(q *http.Request) { q.Host = "127.0.0.1" }), name)
	}
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
