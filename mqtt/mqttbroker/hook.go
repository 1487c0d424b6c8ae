package mqttbroker

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"sync"
	"time"

	server "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"

	"underlamp/mqtt"
	"underlamp/store"
)

// A hook is where the engine asks us: who is it, may it, and what of this message.
type hook struct {
	server.HookBase
	opt     Options
	devices store.Devices
	receive mqtt.Receiver
	engine  *server.Server
	ctx     context.Context
	stop    context.CancelFunc
	kept    kept
	asked   sync.Map // client → number of the request for topics that is being answered

	mu       sync.Mutex
	sessions map[string]map[string]*server.Client // by device and id
}

func newHook(opt Options, devices store.Devices, receive mqtt.Receiver, engine *server.Server) *hook {
	h := &hook{opt: opt, devices: devices, receive: receive, engine: engine, kept: kept{payloads: map[string][]byte{}}, sessions: map[string]map[string]*server.Client{}}
	h.ctx, h.stop = context.WithCancel(context.Background())
	return h
}

// ID names the hook to the engine.
func (h *hook) ID() string { return "underlamp" }

// Provides says which questions it answers.
func (h *hook) Provides(b byte) bool {
	switch b {
	case server.OnConnectAuthenticate, server.OnACLCheck, server.OnSessionEstablish, server.OnDisconnect,
		server.OnClientExpired, server.OnPublish, server.OnSubscribe, server.OnPacketEncode, server.OnPacketProcessed:
		return true
	}
	return false
}

// maxReason bounds what a device is told, in bytes: small ones have little room.
const maxReason = 200

// lookup bounds a question to the store.
const lookup = 10 * time.Second

// OnConnectAuthenticate lets in a device that shows its name and token.
func (h *hook) OnConnectAuthenticate(cl *server.Client, pk packets.Packet) bool {
	name := string(pk.Connect.Username)
	ctx, cancel := context.WithTimeout(h.ctx, lookup)
	defer cancel()
	d, err := h.devices.DeviceBy(ctx, store.TokenHash(string(pk.Connect.Password)))
	switch {
	case err != nil && !errors.Is(err, store.ErrNotFound):
		// No word of a wrong token: the device would give up.
		h.opt.Log.Error("it could not be looked up who connects", "remote", cl.Net.Remote, "err", err)
		cl.Stop(packets.ErrServerUnavailable)
		return false
	case err != nil || d.Name != name:
		h.opt.Log.Warn("a device was not let in: its name and token do not belong together, or it was revoked", "remote", cl.Net.Remote)
		select {
		case <-time.After(h.opt.FailDelay):
		case <-h.ctx.Done():
		}
		return false
	case !mqtt.ValidName(name):
		h.opt.Log.Warn("a device was not let in: over MQTT its name may have letters, digits and -:._ alone; enter it under another name", "device", name)
		return false
	}
	// A session is called by its device too, so that none can take another's.
	id := name + "/" + cl.ID
	h.mu.Lock()
	defer h.mu.Unlock()
	if _, known := h.sessions[name][id]; !known && len(h.sessions[name]) >= h.opt.MaxSessions && !h.makeRoom(name) {
		h.opt.Log.Warn("a device was not let in: it has as many sessions as it may", "device", name, "most", h.opt.MaxSessions)
		return false
	}
	cl.ID = id
	cl.Properties.Will = server.Will{}
	return true
}

// makeRoom forgets a session of a device that is not connected: it may give itself
// another name each time.
func (h *hook) makeRoom(name string) bool {
	for id, old := range h.sessions[name] {
		if old.Closed() {
			h.engine.UnsubscribeClient(old)
			old.ClearInflights()
			h.engine.Clients.Delete(id)
			delete(h.sessions[name], id)
			return true
		}
	}
	return false
}

// OnSessionEstablish enters a session.
func (h *hook) OnSessionEstablish(cl *server.Client, _ packets.Packet) {
	name := string(cl.Properties.Username)
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.sessions[name] == nil {
		h.sessions[name] = map[string]*server.Client{}
	}
	h.sessions[name][cl.ID] = cl
}

// OnDisconnect drops a session that does not outlive its connection.
func (h *hook) OnDisconnect(cl *server.Client, _ error, expire bool) {
	h.asked.Delete(cl)
	if expire {
		h.OnClientExpired(cl)
	}
}

// OnClientExpired drops a session, if no other has taken its place.
func (h *hook) OnClientExpired(cl *server.Client) {
	name := string(cl.Properties.Username)
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.sessions[name][cl.ID] == cl {
		if delete(h.sessions[name], cl.ID); len(h.sessions[name]) == 0 {
			delete(h.sessions, name)
		}
	}
}

// OnACLCheck says which topics are a device's.
func (h *hook) OnACLCheck(cl *server.Client, topic string, write bool) bool {
	name := string(cl.Properties.Username)
	if write {
		return mqtt.Owns(name, topic)
	}
	return mqtt.Owns(name, topic) && topic != name
}

// OnSubscribe gives a request a number from the end that the engine does not count from.
// It takes the numbers of both sides for one series, though each side counts for itself
// (OASIS2014, section 2.3.1), and would refuse a request that has the number of a message
// that the device has not accepted yet. The answer gets the number back in OnPacketEncode.
func (h *hook) OnSubscribe(cl *server.Client, pk packets.Packet) packets.Packet {
	h.asked.Store(cl, pk.PacketID)
	for pk.PacketID = math.MaxUint16; ; pk.PacketID-- { // few are under way
		if _, taken := cl.State.Inflight.Get(pk.PacketID); !taken {
			return pk
		}
	}
}

// OnPacketEncode tells version 5 of the limits that the engine keeps to itself, and
// answers a request under the number that it came with.
func (h *hook) OnPacketEncode(cl *server.Client, pk packets.Packet) packets.Packet {
	if pk.FixedHeader.Type == packets.Suback {
		if number, is := h.asked.LoadAndDelete(cl); is {
			pk.PacketID = number.(uint16)
		}
	}
	if pk.FixedHeader.Type == packets.Connack && cl.Properties.ProtocolVersion == 5 {
		pk.Properties.MaximumPacketSize = uint32(h.opt.MaxPacket)
	}
	return pk
}

// OnPacketProcessed sends what waits for a device after it has asked for it.
func (h *hook) OnPacketProcessed(cl *server.Client, pk packets.Packet, err error) {
	if pk.FixedHeader.Type != packets.Subscribe || err != nil || cl.Net.Inline {
		return
	}
	var filters []string
	for _, f := range pk.Filters {
		if h.OnACLCheck(cl, f.Filter, false) && f.RetainHandling != 2 { // 2: not wanted (OASIS2019, section 3.8.3.1)
			filters = append(filters, f.Filter)
		}
	}
	h.kept.send(cl, filters)
}

// OnPublish hands a message on, and waits until it is done with: the engine acknowledges
// when this returns.
func (h *hook) OnPublish(cl *server.Client, pk packets.Packet) (packets.Packet, error) {
	if cl.Net.Inline {
		return pk, nil // our own
	}
	err := h.receive(h.ctx, mqtt.Message{
		Device: string(cl.Properties.Username), Topic: pk.TopicName, Payload: pk.Payload, QoS: pk.FixedHeader.Qos,
	})
	if err == nil {
		return pk, packets.CodeSuccessIgnore
	}
	if refused, ok := errors.AsType[*mqtt.RefusedError](err); ok {
		if cl.Properties.ProtocolVersion == 5 && pk.FixedHeader.Qos == 1 {
			return pk, packets.Code{Code: packets.ErrPayloadFormatInvalid.Code, Reason: strings.ToValidUTF8(refused.Reason[:min(len(refused.Reason), maxReason)], "")}
		}
		return pk, packets.CodeSuccessIgnore
	}
	// A moment's pause, so that all devices at once do not knock without end.
	select {
	case <-time.After(h.opt.FailDelay):
	case <-h.ctx.Done():
	}
	if pk.FixedHeader.Qos > 0 {
		cut(h.engine, cl, packets.ErrServerUnavailable)
	}
	return pk, packets.ErrRejectPacket
}

// underWay says that a device that is connected has not accepted what it was sent.
func (h *hook) underWay() bool {
	return slices.ContainsFunc(h.connected(func(string) bool { return true }), func(cl *server.Client) bool { return cl.State.Inflight.Len() > 0 })
}

// connected are the sessions of the devices asked for that have a connection.
func (h *hook) connected(asked func(device string) bool) []*server.Client {
	h.mu.Lock()
	defer h.mu.Unlock()
	var out []*server.Client
	for name, sessions := range h.sessions {
		for _, cl := range sessions {
			if !cl.Closed() && asked(name) {
				out = append(out, cl)
			}
		}
	}
	return out
}

// cutRevoked ends the connections of devices that were revoked.
func (h *hook) cutRevoked() {
	ctx, cancel := context.WithTimeout(h.ctx, lookup)
	defer cancel()
	all, err := h.devices.Devices(ctx)
	if err != nil {
		if h.ctx.Err() == nil {
			h.opt.Log.Error("it could not be looked up which devices were revoked", "err", err)
		}
		return
	}
	may := map[string]bool{}
	for _, d := range all {
		may[d.Name] = d.Revoked == 0
	}
	out := h.connected(func(name string) bool { return !may[name] })
	for _, cl := range out {
		h.opt.Log.Info("a revoked device was cut off", "device", string(cl.Properties.Username))
		cut(h.engine, cl, packets.ErrNotAuthorized)
	}
}
