package oracle

import (
	"fmt"
	"slices"
	"strconv"
	"time"
)

// question is one command line, as far as it changes the answer.
type question struct {
	command         string // stock, reconcile, check, waste, reorder, quote or machines
	by              string // waste
	month, from, to string // waste, machines
	window          int    // reorder
	queued          bool   // machines
	filter                 // waste
	job             string // quote, as typed
	asOf            *time.Time
	asOfText        string
}

// filter keeps rows of one alone; blank: of any.
type filter struct{ client, spool, lot, maker, material string }

func (q question) args() []string {
	var args []string
	if q.asOf != nil {
		args = append(args, "--as-of", q.asOfText)
	}
	args = append(args, q.command)
	for _, flag := range []struct{ name, value string }{{"--by", q.by}, {"--month", q.month}, {"--from", q.from}, {"--to", q.to},
		{"--client", q.client}, {"--spool", q.spool}, {"--lot", q.lot}, {"--maker", q.maker}, {"--material", q.material}} {
		if flag.value != "" {
			args = append(args, flag.name, flag.value)
		}
	}
	if q.window != 0 {
		args = append(args, "--window", strconv.Itoa(q.window))
	}
	if q.job != "" {
		args = append(args, q.job)
	}
	if q.queued {
		args = append(args, "--queue")
	}
	return args
}

// reads are the ledgers that each command needs: its exit status speaks of
// conflicts in these alone.
//
// Readings taken: waste needs no weigh-in, stock and reconcile no queue,
// reconcile and waste no move, plan no queue, machines neither weigh-in nor
// queue unless it is asked of the queue.
var reads = map[string][]string{
	"stock":     {"purchases.csv", "weighins.csv", "consumption.csv", "moves.csv", "voids.csv"},
	"reconcile": {"purchases.csv", "weighins.csv", "consumption.csv", "voids.csv"},
	"check":     {"purchases.csv", "weighins.csv", "consumption.csv", "queue.csv", "moves.csv", "voids.csv"},
	"waste":     {"purchases.csv", "consumption.csv", "voids.csv"},
	"reorder":   {"purchases.csv", "weighins.csv", "consumption.csv", "queue.csv", "moves.csv", "voids.csv"},
	"quote":     {"purchases.csv", "weighins.csv", "consumption.csv", "queue.csv", "moves.csv", "voids.csv"},
	"machines":  {"purchases.csv", "consumption.csv", "voids.csv", "sliced.csv"},
	"plan":      {"purchases.csv", "weighins.csv", "consumption.csv", "moves.csv", "voids.csv"},
}

// calculate answers a question: the JSON expected and the exit status.
func calculate(f folder, q question) (answer any, status int) {
	l := liveLedgers(f, q.asOf)
	spools := buildSpools(f, l)
	names := showNames(f, l, reads[q.command])
	enough := true
	switch q.command {
	case "stock":
		answer = stock(f, l, spools, names)
	case "reconcile":
		answer = reconcile(l, spools)
	case "check":
		answer, _, enough = check(f, l, spools, names)
	case "reorder":
		_, jobs, _ := check(f, l, spools, names)
		answer = reorder(f, l, spools, names, jobs, q)
	case "quote":
		_, jobs, _ := check(f, l, spools, names)
		answer = quote(f, spools, names, jobs, q)
	case "waste":
		answer = waste(l, spools, names, q)
	case "machines":
		answer = machinesOf(f, l, spools, q)
	default:
		panic(fmt.Sprintf("no command %q", q.command))
	}
	if !enough {
		status = 1
	}
	files := reads[q.command]
	if q.queued {
		files = append(slices.Clone(reads["check"]), "sliced.csv")
	}
	for _, file := range files {
		if l.conflict[file] {
			status = 1
		}
	}
	return answer, status
}
