package mqttintake

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"underlamp/intake"
	"underlamp/mqtt"
)

// A Taker keeps readings; an [*intake.Intake] is one.
type Taker interface {
	Take(ctx context.Context, readings []intake.Reading) error
}

// Options of a receiver; zero values are the usual ones.
type Options struct {
	Log *slog.Logger     // nil logs nothing
	Now func() time.Time // nil is the clock
}

// Counts are what became of messages since the start.
type Counts struct {
	Messages int64 // that were kept
	Readings int64 // in them
	Refused  int64 // messages that can never be taken
	Old      int64 // retained ones without a time, left alone
	Failed   int64 // not kept now: to be sent again, or lost if their sender asked for no more (QoS 0)
}

// A Receiver takes messages. Its methods may be called together.
type Receiver struct {
	in  Taker
	opt Options

	messages, readings, refused, old, failed atomic.Int64

	mu   sync.Mutex
	said map[string]time.Time // when a refusal was last logged, by topic
}

// New makes a receiver of messages.
func New(in Taker, opt Options) *Receiver {
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	if opt.Now == nil {
		opt.Now = time.Now
	}
	return &Receiver{in: in, opt: opt, said: map[string]time.Time{}}
}

var _ mqtt.Receiver = (*Receiver)(nil).Receive

// Counts tells what became of messages so far.
func (r *Receiver) Counts() Counts {
	return Counts{r.messages.Load(), r.readings.Load(), r.refused.Load(), r.old.Load(), r.failed.Load()}
}

// Receive keeps what a message says; see [mqtt.Receiver] for its answer.
func (r *Receiver) Receive(ctx context.Context, m mqtt.Message) error {
	p, err := decode(m.Topic, m.Payload, r.opt.Now())
	if err == nil && m.Device != "" {
		for _, x := range p.readings {
			if !mqtt.Owns(m.Device, x.Sensor) {
				err = mqtt.Refused("the sensor %q is not the device's own: its name does not begin with %q", shortened(x.Sensor), m.Device+"/")
				break
			}
		}
	}
	if err != nil {
		return r.refuse(m, err)
	}
	if m.Retained && !p.timed {
		r.old.Add(1)
		return nil
	}
	err = r.in.Take(ctx, p.readings)
	if bad, ok := errors.AsType[*intake.RefusedError](err); ok {
		return r.refuse(m, &mqtt.RefusedError{Reason: bad.Error()})
	}
	if err != nil {
		r.failed.Add(1)
		if m.QoS == 0 {
			r.log(m, slog.LevelError, "readings were lost: they could not be kept, and their sender does not send again (QoS 0)", err)
		} else {
			r.log(m, slog.LevelError, "readings could not be kept; they are to be sent again", err)
		}
		return err
	}
	r.messages.Add(1)
	r.readings.Add(int64(len(p.readings)))
	return nil
}

func (r *Receiver) refuse(m mqtt.Message, why error) error {
	r.refused.Add(1)
	r.log(m, slog.LevelWarn, "a message was refused; to send it again will not help", why)
	return why
}

// Bounds of what is remembered.
const (
	quiet   = time.Minute // between two lines of the log about one topic
	maxSaid = 1000
)

// log says what became of a message, not more than once a minute for a topic.
func (r *Receiver) log(m mqtt.Message, level slog.Level, text string, err error) {
	now := r.opt.Now()
	r.mu.Lock()
	last, known := r.said[m.Topic]
	silent := known && now.Sub(last).Abs() < quiet
	if !silent {
		if len(r.said) >= maxSaid {
			clear(r.said)
		}
		r.said[m.Topic] = now
	}
	r.mu.Unlock()
	if !silent {
		r.opt.Log.Log(context.Background(), level, text, "topic", shortened(m.Topic), "device", m.Device, "why", err)
	}
}
