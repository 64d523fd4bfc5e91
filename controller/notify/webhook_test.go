package notify

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	standardwebhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/notify/alarm"
)

// The check value of the authors' own library, libraries/go/webhook_test.go of
// github.com/standard-webhooks/standard-webhooks at v0.0.1.
func TestSignatureIsThatOfTheSpecification(t *testing.T) {
	signature, err := sign("whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", "msg_p5jXN8AQM9LWM0D4loKWxJek", "1614265330", []byte(`{"test": 2432232314}`))
	require.NoError(t, err)
	assert.Equal(t, "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=", signature)
}

func TestKeyThatIsNoneIsRefusedWithTheWayToMakeOne(t *testing.T) {
	for _, key := range []string{"", "whsec_", "whsec_short", "hunter2 hunter2 hunter2 hunter2", "whsec_YWJj"} {
		_, err := sign(key, "id", "0", nil)
		assert.ErrorContains(t, err, "openssl rand", key)
	}
}

const testKey = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"

func secretFile(t *testing.T, text string) Secret {
	path := filepath.Join(t.TempDir(), "secret")
	require.NoError(t, os.WriteFile(path, []byte(text+"\n"), 0o600))
	return Secret{path}
}

func message() *Message {
	p := controller.Parts{Happened: "HIGH shows water.", Done: "The pump is off.", Do: "Clear the drain."}
	at := time.Date(2026, 3, 2, 9, 5, 0, 0, time.UTC)
	return &Message{ID: "msg_1", Site: "greenhouse", At: at, Notice: alarm.Notice{
		Kind: alarm.Arose, Subject: "[now] greenhouse, north: high-level", Body: "What happened\n",
		Alarm: alarm.Alarm{ID: 7, Bench: "north", Cause: "high-level", Urgency: controller.Urgent, Text: p.Text(), Parts: p, At: at, Active: true, By: at.Add(time.Hour)},
	}}
}

func TestWebhookIsWhatTheAuthorsLibraryVerifies(t *testing.T) {
	verifier, err := standardwebhooks.NewWebhook(testKey)
	require.NoError(t, err)
	var body []byte
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ = io.ReadAll(r.Body)
		assert.NoError(t, verifier.Verify(body, r.Header))
		assert.Equal(t, "msg_1", r.Header.Get("webhook-id"))
		w.WriteHeader(http.StatusNoContent)
	}))
	defer server.Close()
	hook := &Webhook{Called: "webhook", Plain: server.URL, Key: secretFile(t, testKey), Client: HTTPClient(), Now: time.Now}
	require.NoError(t, hook.Send(t.Context(), message()))
	var got hookBody
	require.NoError(t, json.Unmarshal(body, &got))
	assert.Equal(t, "alarm.arose", got.Type)
	assert.Equal(t, "2026-03-02T09:05:00Z", got.Timestamp)
	assert.Equal(t, hookData{
		Site: "greenhouse", Alarm: 7, Bench: "north", Cause: "high-level", Urgency: "now", State: "unacknowledged", Since: "2026-03-02T09:05:00Z",
		Happened: "HIGH shows water.", Done: "The pump is off.", Do: "Clear the drain.", By: "2026-03-02T10:05:00Z",
		Subject: "[now] greenhouse, north: high-level", Text: "What happened\n",
	}, got.Data)
}

func TestOnlyAnAnswerAboutTheRequestItselfIsARefusal(t *testing.T) {
	for code, refused := range map[int]bool{302: false, 400: true, 401: false, 404: false, 410: false, 422: true, 429: false, 500: false, 503: false} {
		server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Location", "/elsewhere")
			w.WriteHeader(code)
		}))
		err := (&Webhook{Plain: server.URL, Client: HTTPClient(), Now: time.Now}).Send(t.Context(), message())
		server.Close()
		require.Error(t, err, code)
		assert.Equal(t, refused, isRefused(err), code)
	}
}

func TestErrorsHoldNoSecret(t *testing.T) {
	address := "http://127.0.0.1:1/hook?token=s3cret"
	hook := &Webhook{URL: secretFile(t, address), Client: HTTPClient(), Now: time.Now}
	err := hook.Send(t.Context(), message())
	require.Error(t, err)
	assert.NotContains(t, err.Error(), "s3cret")
	heart := &Heartbeat{Method: http.MethodGet, URL: secretFile(t, address), Every: time.Minute, Client: HTTPClient()}
	err = heart.send(t.Context())
	require.Error(t, err)
	assert.NotContains(t, err.Error(), "s3cret")
}

func TestSecretIsReadFromItsFileEachTime(t *testing.T) {
	dir, credentials := t.TempDir(), t.TempDir()
	s := Resolve("password", dir)
	_, err := s.Value()
	assert.ErrorContains(t, err, "put it into that file")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "password"), []byte("one\r\n"), 0o600))
	text, err := s.Value()
	require.NoError(t, err)
	assert.Equal(t, "one", text)

	require.NoError(t, os.WriteFile(filepath.Join(credentials, "password"), []byte("two"), 0o600))
	t.Setenv("CREDENTIALS_DIRECTORY", credentials)
	text, err = Resolve("password", dir).Value()
	require.NoError(t, err)
	assert.Equal(t, "two", text, "the service manager's goes first")
	require.NoError(t, os.WriteFile(filepath.Join(credentials, "empty"), nil, 0o600))
	_, err = Resolve("empty", dir).Value()
	assert.ErrorContains(t, err, "is empty")
}
