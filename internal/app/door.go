package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"seatproof/internal/web"
)

func newServer(h http.Handler, log *slog.Logger) *http.Server {
	return &http.Server{Handler: h, ReadHeaderTimeout: 10 * time.Second, IdleTimeout: 2 * time.Minute, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelDebug)}
}

// spot is an address of this machine and the network it is on.
type spot struct {
	addr    netip.Addr
	network string
}

// door lets other machines of the local network in, on private addresses only.
// It listens on those the machine has when it is opened: on another network it is
// shut until someone opens it there.
type door struct {
	find    func() ([]spot, error)
	port    int // the same as the sheets' own where it is free
	handler http.Handler
	log     *slog.Logger

	mu      sync.Mutex
	server  *http.Server
	running sync.WaitGroup
	open    []web.Address
}

// Open implements [web.Door].
func (d *door) Open(ctx context.Context) ([]web.Address, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.server != nil {
		return slices.Clone(d.open), nil
	}
	places, err := d.find()
	if err != nil {
		return nil, err
	}
	var lines []net.Listener
	var faults []error
	for _, p := range places {
		line, err := listenOn(ctx, p.addr, d.port)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		lines = append(lines, onlyPrivate{line})
		d.open = append(d.open, web.Address{Host: line.Addr().String(), Network: p.network})
	}
	if len(lines) == 0 {
		return nil, errors.Join(append([]error{errors.New("this computer has no private address")}, faults...)...)
	}
	d.server = newServer(d.handler, d.log)
	for _, line := range lines {
		d.running.Go(func() {
			if err := d.server.Serve(line); !errors.Is(err, http.ErrServerClosed) {
				d.log.Error("listening for phones ended", "address", line.Addr().String(), "error", err)
			}
		})
	}
	return slices.Clone(d.open), nil
}

// Shut implements [web.Door]: streams end with it.
func (d *door) Shut() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.server == nil {
		return nil
	}
	err := d.server.Close()
	d.running.Wait()
	d.server, d.open = nil, nil
	return err
}

// listenOn takes the wanted port, or any where that one is not free.
func listenOn(ctx context.Context, a netip.Addr, port int) (net.Listener, error) {
	var config net.ListenConfig
	line, err := config.Listen(ctx, "tcp", netip.AddrPortFrom(a, uint16(port)).String())
	if err != nil {
		line, err = config.Listen(ctx, "tcp", netip.AddrPortFrom(a, 0).String())
	}
	return line, err
}

// onlyPrivate takes no connection from a public address, however it was routed.
type onlyPrivate struct{ net.Listener }

// Accept implements [net.Listener].
func (l onlyPrivate) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		if p, err := netip.ParseAddrPort(c.RemoteAddr().String()); err == nil && (private(p.Addr()) || p.Addr().Unmap().IsLoopback()) {
			return c, nil
		}
		_ = c.Close()
	}
}

// private says whether an address is of a local network: RFC 1918, RFC 4193, or
// link-local (RFC 3927, RFC 4291 §2.5.6).
func private(a netip.Addr) bool {
	a = a.Unmap()
	return a.IsPrivate() || a.IsLinkLocalUnicast()
}

// privateAddresses returns the private addresses of this machine, the likeliest
// to be a home network's first. A link-local address of IPv6 is left out: it needs
// the name of the network in it, which browsers don't take.
func privateAddresses() ([]spot, error) {
	networks, err := net.Interfaces()
	if err != nil {
		return nil, err
	}
	var out []spot
	for _, n := range networks {
		if n.Flags&net.FlagUp == 0 || n.Flags&net.FlagLoopback != 0 {
			continue
		}
		addrs, err := n.Addrs()
		if err != nil {
			return nil, err
		}
		for _, a := range addrs {
			p, err := netip.ParsePrefix(a.String())
			if err != nil {
				continue
			}
			if ip := p.Addr().Unmap(); private(ip) && !(ip.Is6() && ip.IsLinkLocalUnicast()) {
				out = append(out, spot{ip, n.Name})
			}
		}
	}
	slices.SortStableFunc(out, func(a, b spot) int { return cmp.Compare(unlikely(a), unlikely(b)) })
	return out, nil
}

// unlikely ranks addresses: networks that programs make for themselves come last,
// then what was assigned by nobody, then IPv6, which is longer to type.
func unlikely(p spot) (rank int) {
	for _, made := range []string{"docker", "br-", "veth", "virbr", "vmnet", "vbox", "tun", "tap", "wg", "utun", "vEthernet"} {
		if strings.HasPrefix(p.network, made) {
			rank += 4
		}
	}
	if p.addr.IsLinkLocalUnicast() {
		rank += 2
	}
	if p.addr.Is6() {
		rank++
	}
	return rank
}

// reachable says whether others than this machine reach an address.
func reachable(a net.Addr) bool {
	p, err := netip.ParseAddrPort(a.String())
	return err != nil || !p.Addr().Unmap().IsLoopback()
}

func portOf(a net.Addr) int {
	p, err := netip.ParseAddrPort(a.String())
	if err != nil {
		return 0
	}
	return int(p.Port())
}

// machineNames are what a person may type for this machine.
func machineNames() []string {
	name, err := os.Hostname()
	name = strings.ToLower(name)
	if err != nil || name == "" {
		return nil
	}
	short, _, _ := strings.Cut(name, ".")
	return slices.Compact([]string{name, short, short + ".local"})
}

// serveHere gives this machine a way in beside an address that others reach,
// which asks everyone to pair.
func (a *App) serveHere(ctx context.Context, at net.Addr, server *http.Server, running *sync.WaitGroup, failed chan<- error) (string, error) {
	p, err := netip.ParseAddrPort(at.String())
	if err != nil {
		return "", err
	}
	here := net.JoinHostPort("127.0.0.1", strconv.Itoa(int(p.Port())))
	if p.Addr().Unmap().IsUnspecified() { // the one listener takes these too
		return "http://" + here + "/", nil
	}
	line, err := new(net.ListenConfig).Listen(ctx, "tcp", here)
	if err != nil {
		return "http://" + at.String() + "/", fmt.Errorf("--listen %s: this machine's own %s is not free (%w): pair this machine too", at, here, err)
	}
	running.Go(func() { failed <- server.Serve(line) })
	return "http://" + here + "/", nil
}

// sayCode tells whoever started the program on an address that others reach how
// they come in.
func (a *App) sayCode(sheets *web.Server, here string) {
	code, err := sheets.PairingCode()
	if err != nil {
		fmt.Fprintf(a.Stderr, "seatproof: no pairing code: %v\n", err)
		return
	}
	fmt.Fprintf(a.Stdout, "other machines reach it too: each pairs at /pair with a code, now %s, good for one device within ten minutes. On this machine the sheets are at %s; their sheet Phone makes another code. What is sent is not encrypted\n", code, here)
}
