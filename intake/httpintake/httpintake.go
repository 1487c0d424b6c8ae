// Package httpintake takes readings over HTTP: packs of the open standard SenML or lines of
// the open standard OpenMetrics, each device with a token of its own.
//
//	POST /intake
//	Authorization: Bearer TOKEN
//	Content-Type: application/senml+json
//
//	[{"bn":"rack/","n":"air","u":"Cel","v":21.4},{"n":"humidity","u":"%RH","v":62}]
//
// 204 says that all of it is kept; 400 that it cannot be taken, with the reason, and
// that to send it again will not help; 401 that the token is not known; 503 that it is to
// be sent again later. Sending again what was kept changes nothing if the records carry
// their time.
package httpintake

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"mime"
	"net/http"
	"strings"
	"time"

	"underlamp/formats/openmetrics"
	"underlamp/formats/senml"
	"underlamp/intake"
	"underlamp/store"
)

// A Taker keeps readings; an [*intake.Intake] is one.
type Taker interface {
	Take(ctx context.Context, readings []intake.Reading) error
}

// Handler takes packs.
func Handler(in Taker, devices store.Devices, log *slog.Logger) http.Handler {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodPost {
			w.Header().Set("Allow", http.MethodPost)
			http.Error(w, "Readings are sent with POST.", http.StatusMethodNotAllowed)
			return
		}
		token, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
		if !ok {
			w.Header().Set("WWW-Authenticate", "Bearer")
			http.Error(w, "A device sends its token: Authorization: Bearer TOKEN.", http.StatusUnauthorized)
			return
		}
		device, err := devices.DeviceBy(r.Context(), store.TokenHash(strings.TrimSpace(token)))
		switch {
		case errors.Is(err, store.ErrNotFound):
			w.Header().Set("WWW-Authenticate", `Bearer error="invalid_token"`)
			http.Error(w, "This token is not known, or was revoked.", http.StatusUnauthorized)
			return
		case err != nil:
			later(w, log, "device", err)
			return
		}
		kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
		read, known := readers[kind]
		if err != nil || !known {
			http.Error(w, "Readings are sent as application/senml+json or as application/openmetrics-text.", http.StatusUnsupportedMediaType)
			return
		}
		body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, senml.MaxBytes))
		if err != nil {
			if _, tooLarge := errors.AsType[*http.MaxBytesError](err); tooLarge {
				http.Error(w, "The pack is larger than 4 MiB.", http.StatusRequestEntityTooLarge)
				return
			}
			http.Error(w, "The pack did not arrive whole.", http.StatusBadRequest)
			return
		}
		readings, err := read(body, time.Now())
		if err != nil {
			http.Error(w, "This pack cannot be taken: "+err.Error()+".", http.StatusBadRequest)
			return
		}
		err = in.Take(r.Context(), readings)
		if refused, ok := errors.AsType[*intake.RefusedError](err); ok {
			http.Error(w, "This pack cannot be taken: "+refused.Error()+".", http.StatusBadRequest)
			return
		} else if err != nil {
			later(w, log, device.Name, err)
			return
		}
		w.WriteHeader(http.StatusNoContent)
	})
}

func later(w http.ResponseWriter, log *slog.Logger, device string, err error) {
	log.Error("intake", "device", device, "err", err)
	w.Header().Set("Retry-After", "10")
	http.Error(w, "The readings could not be kept now. Send them again.", http.StatusServiceUnavailable)
}

// readers read what is sent, by its media type.
var readers = map[string]func(body []byte, now time.Time) ([]intake.Reading, error){
	"application/senml+json":       fromSenML,
	"application/json":             fromSenML,
	"application/openmetrics-text": fromOpenMetrics,
}

func fromSenML(body []byte, now time.Time) ([]intake.Reading, error) {
	pack, err := senml.Read(body, now)
	if err != nil {
		return nil, err
	}
	out := make([]intake.Reading, len(pack.Records))
	for i, x := range pack.Records {
		out[i] = intake.Reading{Sensor: x.Name, Unit: x.Unit, At: x.At, Value: x.Value}
	}
	return out, nil
}

func fromOpenMetrics(body []byte, now time.Time) ([]intake.Reading, error) {
	e, err := openmetrics.Read(body, now)
	if err != nil {
		return nil, err
	}
	out := make([]intake.Reading, len(e.Samples))
	for i, x := range e.Samples {
		out[i] = intake.Reading{Sensor: x.Name, Unit: x.Unit, At: x.At, Value: x.Value}
	}
	return out, nil
}
