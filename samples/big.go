package samples

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"github.com/oklog/ulid/v2"
)

// Big describes a generated book for benchmarks: so many spools bought, so many rows of consumption over three years, 20 clients,
// 3 printers, about four rows a job, and a queue of 20 jobs. The same values give the same bytes.
type Big struct {
	Spools, Rows int
	Seed         uint64
}

const (
	bigOnShelf  = 24 // spools in use at a time, as a shop of three printers has
	bigWeighIns = 19 // at most on one spool
	bigWeighGap = 50 // consumption rows of a spool from one weigh-in to the next
	bigQueued   = 20
	bigClients  = 20
	bigVoids    = 5
	bigTareG    = 148
	bigTrueUse  = 1.03 // grams really used for each gram recorded
)

var (
	bigStart = time.Date(2023, time.November, 8, 6, 0, 0, 0, time.UTC)
	bigSpan  = 3 * 365 * 24 * time.Hour

	bigMaterials = []string{"PLA", "PLA", "PLA", "PETG", "PETG", "ASA", "TPU"}
	bigColours   = []string{"white", "black", "brick", "ash", "sand", "moss", "slate", "ochre"}
	bigPrinters  = []string{"P1", "P2", "P3"}
	bigNotes     = []string{
		`"second try, the first came loose"`,
		`"left half, right half tomorrow"`,
		`"thin walls, slow"`,
	}
)

var bigTables = map[string]string{
	"settings.csv": "setting,value\ncurrency,EUR\n",
	"materials.csv": "material,density_g_cm3,density_u_g_cm3,note\n" +
		"PLA,1.24,0.012,\nPETG,1.27,0.017,\nASA,1.07,0.012,\nTPU,1.20,0.029,\n",
	"cores.csv":  "core,tare_g,tare_u_g,note\ncard,148,4,\n",
	"scales.csv": "scale,division_g,error_g,repeat_g,note\nbench,0.1,0.3,0.1,\n",
	"printers.csv": "printer,feeds,purge_mm3,prime_mm3,swap_s,load_s,tail_mm,note\n" +
		"P1,4,230,28,0,54,1450,\nP2,1+4,170,22,8,46,1100,\nP3,1+1+1+1,60,11,13,95,420,\n",
	"moves.csv": "entry,at,spool,place,note\n",
	"seals.csv": "entry,at,through,ledger,month,rows,sha256\n",
	"bills.csv": "entry,at,bill,client,from,to,currency,billed,lines,sha256,note\n",
}

// WriteTo writes the book into dir, which it creates; it never overwrites a file. Memory does not grow
// with the rows: consumption is written as it is made up.
func (b Big) WriteTo(dir string) (err error) {
	if b.Spools < 0 || b.Rows < 0 || b.Spools == 0 && b.Rows > 0 {
		return fmt.Errorf("no book of %d spools and %d rows", b.Spools, b.Rows)
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	for name, rows := range bigTables {
		if err := writeNew(filepath.Join(dir, name), rows); err != nil {
			return err
		}
	}
	clients := "client,name,waste_billed,scrap_billed,from,note\n"
	for i := range bigClients {
		clients += fmt.Sprintf("c%02d,Client %d,%s,%s,,\n", i+1, i+1, []string{"1", "0.5", "0"}[i%3], []string{"0", "0.25"}[i%2])
	}
	if err := writeNew(filepath.Join(dir, "clients.csv"), clients); err != nil {
		return err
	}

	w := &bigWriter{Big: b, rng: rand.New(rand.NewPCG(b.Seed, 0x7461726562))}
	binary.BigEndian.PutUint16(w.id[6:], uint16(b.Seed))
	defer func() {
		for _, l := range w.ledgers {
			err = errors.Join(err, l.close())
		}
	}()
	for _, l := range []struct {
		to           **ledgerFile
		name, header string
	}{
		{&w.purchases, "purchases.csv", "entry,at,spool,material,colour,swatch,maker,lot,diameter_mm,net_g,core,tare_g,price,currency,supplier,place,from,note,gross_g,scale"},
		{&w.weighins, "weighins.csv", "entry,at,spool,gross_g,scale,state,note"},
		{&w.consumption, "consumption.csv", "entry,at,job,client,printer,spool,part_g,support_g,prime_g,purge_g,changes,outcome,basis,note"},
		{&w.queue, "queue.csv", "entry,at,job,client,printer,slot,spool,material,colour,part_g,support_g,prime_g,purge_g,changes,due,basis,file,note"},
		{&w.voids, "voids.csv", "entry,at,target,why"},
	} {
		f, err := create(filepath.Join(dir, l.name))
		if err != nil {
			return err
		}
		*l.to = &ledgerFile{f, bufio.NewWriterSize(f, 1<<18)}
		w.ledgers = append(w.ledgers, *l.to)
		(*l.to).put(append([]byte(l.header), '\n'))
	}
	w.write()
	return nil
}

func writeNew(name, text string) error {
	f, err := create(name)
	if err != nil {
		return err
	}
	_, err = f.WriteString(text)
	return errors.Join(err, f.Close())
}

// A ledgerFile is one file being written. Its writer keeps the first error until close.
type ledgerFile struct {
	file *os.File
	buf  *bufio.Writer
}

func (l *ledgerFile) put(line []byte) { l.buf.Write(line) }
func (l *ledgerFile) close() error    { return errors.Join(l.buf.Flush(), l.file.Close()) }

type bigWriter struct {
	Big
	rng                                            *rand.Rand
	purchases, weighins, consumption, queue, voids *ledgerFile
	ledgers                                        []*ledgerFile
	id                                             ulid.ULID
	count                                          uint64
	line                                           []byte
	bought                                         int
	shelf                                          []*bigSpool // in use
	left                                           []*bigSpool // no longer used, not ended
}

// A bigSpool is a spool on the shelf.
type bigSpool struct {
	id    string
	kind  int
	rows  int     // still to be taken from it
	taken int     // rows taken so far
	gap   int     // rows from one weigh-in to the next
	mean  float64 // grams a row
	net   float64 // what is really on it
}

// entry appends a ULID of that instant. The counter in its random part keeps each file ascending however
// many rows share a millisecond.
func (w *bigWriter) entry(at time.Time) {
	w.count++
	w.id.SetTime(uint64(at.UnixMilli())) // its only error is a year beyond 10889
	binary.BigEndian.PutUint64(w.id[8:], w.count)
	n := len(w.line)
	w.line = append(w.line, "00000000000000000000000000"...)
	w.id.MarshalTextTo(w.line[n:]) // its only error is a wrong length
}

func (w *bigWriter) begin(at time.Time) {
	w.line = w.line[:0]
	w.entry(at)
	w.text("")
	w.line = at.AppendFormat(w.line, time.RFC3339)
}

func (w *bigWriter) text(s string) { w.line = append(append(w.line, ','), s...) }

func (w *bigWriter) number(n int) { w.line = strconv.AppendInt(append(w.line, ','), int64(n), 10) }

// tenths appends n tenths of a gram, nothing for 0.
func (w *bigWriter) tenths(n int) {
	w.line = append(w.line, ',')
	if n == 0 {
		return
	}
	w.line = strconv.AppendInt(w.line, int64(n/10), 10)
	if n%10 != 0 {
		w.line = append(w.line, '.', byte('0'+n%10))
	}
}

func (w *bigWriter) end(to *ledgerFile) {
	w.line = append(w.line, '\n')
	to.put(w.line)
}

func (w *bigWriter) instant(row int) time.Time {
	if w.Rows == 0 {
		return bigStart
	}
	return bigStart.Add(time.Duration(float64(bigSpan) * float64(row) / float64(w.Rows))).Truncate(time.Second)
}

func (w *bigWriter) write() {
	w.fill(bigStart)
	everyVoid := max(1, w.Rows/(bigVoids+1))
	job := make([]byte, 0, 16)
	at := bigStart
	for row, jobs := 0, 0; row < w.Rows; {
		at = w.instant(row).Add(time.Hour)
		jobs++
		job = append(job[:0], "job-"...)
		job = strconv.AppendInt(job, int64(1_000_000+jobs), 10)
		client, printer := 1+w.rng.IntN(bigClients), w.rng.IntN(len(bigPrinters))
		failed := w.rng.IntN(25) == 0
		n := min(3+w.rng.IntN(3), len(w.shelf), w.Rows-row)
		for i := range n {
			// A partial shuffle: no spool serves a job twice.
			j := i + w.rng.IntN(len(w.shelf)-i)
			w.shelf[i], w.shelf[j] = w.shelf[j], w.shelf[i]
			real := row%everyVoid != 0 || row == 0 || row/everyVoid > bigVoids
			w.take(w.shelf[i], at, job, client, printer, n, failed, real)
			if !real {
				w.void(at.Add(time.Minute))
			}
			row++
		}
		w.tend(at.Add(2*time.Minute), n)
	}
	for w.bought < w.Spools {
		w.left = append(w.left, w.buy(at))
	}
	w.plan(at.Add(time.Hour))
}

// take writes one row of consumption; an unreal one is booked by mistake, and takes nothing.
func (w *bigWriter) take(s *bigSpool, at time.Time, job []byte, client, printer, spools int, failed, real bool) {
	changes, prime, purge, support := 0, 0, 0, 0
	part := 1 + int(s.mean*10*(0.5+w.rng.Float64()*0.8))
	if spools > 1 {
		changes = 2 + w.rng.IntN(40)
		prime, purge = 1+part/40, 1+part/12
	}
	if w.rng.IntN(3) == 0 {
		support = 1 + part/10
	}
	w.begin(at)
	w.line = append(append(w.line, ','), job...)
	w.line = append(w.line, ',', 'c', byte('0'+client/10), byte('0'+client%10))
	w.text(bigPrinters[printer])
	w.text(s.id)
	w.tenths(part)
	w.tenths(support)
	w.tenths(prime)
	w.tenths(purge)
	w.number(changes)
	if failed {
		w.text("failed")
	} else {
		w.text("finished")
	}
	switch w.rng.IntN(50) {
	case 0:
		w.text("path")
	default:
		w.text("")
	}
	if w.rng.IntN(50) == 0 {
		w.text(bigNotes[w.rng.IntN(len(bigNotes))])
	} else {
		w.text("")
	}
	w.end(w.consumption)
	s.rows--
	s.taken++
	if real {
		s.net -= float64(part+support+prime+purge) / 10 * bigTrueUse * (1 + 0.03*w.rng.NormFloat64())
	}
}

// void cancels the row just written.
func (w *bigWriter) void(at time.Time) {
	target := w.id.String()
	w.begin(at)
	w.text(target)
	w.text("booked twice")
	w.end(w.voids)
}

// tend weighs the first n spools of the shelf where it is time, and replaces those that have served.
func (w *bigWriter) tend(at time.Time, n int) {
	kept := w.shelf[:0]
	for i, s := range w.shelf {
		switch {
		case i < n && s.rows == 0:
			// With no spool left to follow, it stays: a book has spools that have not ended.
			if w.bought == w.Spools {
				w.left = append(w.left, s)
			} else {
				w.weigh(s, at, "discarded")
			}
			continue
		case i < n && s.taken%s.gap == 0:
			w.weigh(s, at, "")
		}
		kept = append(kept, s)
	}
	w.shelf = kept
	w.fill(at)
}

func (w *bigWriter) weigh(s *bigSpool, at time.Time, state string) {
	w.begin(at)
	w.text(s.id)
	w.tenths(int(10 * (bigTareG + max(0, s.net))))
	w.text("bench")
	w.text(state)
	w.text("")
	w.end(w.weighins)
}

func (w *bigWriter) fill(at time.Time) {
	for len(w.shelf) < bigOnShelf && w.bought < w.Spools {
		if s := w.buy(at); s.rows > 0 {
			w.shelf = append(w.shelf, s)
		}
	}
}

// buy books one more spool and weighs it. Its share of the rows is fixed; its size follows, so that it lasts.
func (w *bigWriter) buy(at time.Time) *bigSpool {
	s := &bigSpool{rows: w.Rows / w.Spools}
	if w.bought < w.Rows%w.Spools {
		s.rows++
	}
	w.bought++
	s.id = fmt.Sprintf("S%05d", w.bought)
	s.kind = w.rng.IntN(len(bigMaterials) * len(bigColours))
	s.gap = max(bigWeighGap, (s.rows+bigWeighIns-3)/(bigWeighIns-2)) // less the first and the last weigh-in
	s.mean = min(45, max(2, 700/float64(max(1, s.rows))))
	size := 1000
	for float64(size) < 1.4*s.mean*float64(s.rows) {
		size *= 2
	}
	tenths := 10 * size
	if w.bought%3 == 0 { // opened when it was booked: a net of its own, as prices a gram then have odd denominators
		tenths += 1 + w.rng.IntN(size)
	}
	s.net = float64(tenths) / 10

	w.begin(at)
	w.text(s.id)
	w.text(bigMaterials[s.kind%len(bigMaterials)])
	w.text(bigColours[s.kind/len(bigMaterials)])
	w.line = append(w.line, ",,Corvane,L"...)
	w.line = strconv.AppendInt(w.line, int64(w.bought/12), 10)
	w.text("1.75")
	w.tenths(tenths)
	w.text("card")
	w.text("")
	w.number(size * 2 / 100)
	w.line = append(w.line, '.', byte('0'+w.rng.IntN(10)), '5')
	w.line = append(w.line, ",EUR,Oxbow Trade Counter,shelf,,,,"...)
	w.end(w.purchases)
	w.weigh(s, at.Add(time.Minute), "")
	return s
}

// plan queues jobs on named spools of the shelf and by material and colour.
func (w *bigWriter) plan(at time.Time) {
	if w.Spools == 0 {
		return
	}
	for q := range bigQueued {
		client, printer := 1+w.rng.IntN(bigClients), bigPrinters[q%len(bigPrinters)]
		due := at.Add(time.Duration(q+1) * 5 * time.Hour).Format(time.RFC3339)
		for slot := range 2 + w.rng.IntN(2) {
			w.begin(at.Add(time.Duration(q) * time.Minute))
			w.text(fmt.Sprintf("queued-%02d", q+1))
			w.text(fmt.Sprintf("c%02d", client))
			w.text(printer)
			w.number(slot)
			if slot == 0 && len(w.left) > 0 {
				w.text(w.left[q%len(w.left)].id)
				w.text("")
				w.text("")
			} else {
				kind := w.rng.IntN(len(bigMaterials) * len(bigColours))
				w.text("")
				w.text(bigMaterials[kind%len(bigMaterials)])
				w.text(bigColours[kind/len(bigMaterials)])
			}
			w.tenths(200 + w.rng.IntN(900))
			w.tenths(0)
			w.tenths(4)
			w.tenths(18)
			w.number(12)
			w.text(due)
			w.line = append(w.line, ",sliced,,"...)
			w.end(w.queue)
		}
	}
}
