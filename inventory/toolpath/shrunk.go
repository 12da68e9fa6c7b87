package toolpath

import "errors"

// shrunk undoes the heatshrink compression: a stream of bits, the most significant first. Bit 1: a byte follows. Bit 0: a
// repeat of what came before; window bits hold its distance less 1, lookahead bits its length less 1.
type shrunk struct {
	in     *stored
	window uint   // bits of a distance
	bits   uint64 // read and not used, the last n
	n      uint
	ring   [1 << 12]byte
	done   int64 // bytes decoded
	from   int64 // where the repeat at hand is copied from
	left   int   // bytes of it to come
}

// lookahead is how many bits a length has.
const lookahead = 4

var errShrunk = errors.New("a repeat reaches before the beginning")

func (s *shrunk) begin(in *stored, window uint) {
	s.in, s.window, s.bits, s.n, s.done, s.left = in, window, 0, 0, 0, 0
}

// need reads on until there are n bits.
func (s *shrunk) need(n uint) error {
	for s.n < n {
		if s.in.at == len(s.in.buf) {
			if err := s.in.more(); err != nil {
				return err
			}
		}
		for s.n <= 56 && s.in.at < len(s.in.buf) {
			s.bits = s.bits<<8 | uint64(s.in.buf[s.in.at])
			s.in.at++
			s.n += 8
		}
	}
	return nil
}

func (s *shrunk) Read(p []byte) (n int, err error) {
	const mask = int64(len(s.ring) - 1)
	for n < len(p) {
		if s.left > 0 {
			for s.left > 0 && n < len(p) {
				c := s.ring[s.from&mask]
				s.ring[s.done&mask] = c
				p[n] = c
				n++
				s.from++
				s.done++
				s.left--
			}
			continue
		}
		if s.n < 9 {
			if err := s.need(9); err != nil {
				return n, err // less than a byte is left: it fills up the last one
			}
		}
		if s.bits>>(s.n-1)&1 == 1 {
			s.n -= 9
			c := byte(s.bits >> s.n)
			s.ring[s.done&mask] = c
			s.done++
			p[n] = c
			n++
			continue
		}
		if err := s.need(1 + s.window + lookahead); err != nil {
			return n, err
		}
		s.n -= 1 + s.window + lookahead
		repeat := s.bits >> s.n
		s.left = int(repeat&(1<<lookahead-1)) + 1
		s.from = s.done - 1 - int64(repeat>>lookahead&(1<<s.window-1))
		if s.from < 0 {
			return n, errShrunk
		}
	}
	return n, nil
}
