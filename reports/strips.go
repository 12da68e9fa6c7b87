package reports

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tarebook/inventory/assign"
	"tarebook/ledger"
)

// Strips show in plain characters the order in which each nozzle is used. A cycle that repeats is drawn once, with a count.

// chunk is a part of the sequence: a number of uses from start on, counted from 0, which repeat a number of times.
type chunk struct {
	start, times int
	steps        []assign.Step
}

const (
	longestCycle = 16 // most uses of a cycle; a longer one is drawn without a count
	plainChunk   = 10 // uses under one number where nothing repeats
	mostBlocks   = 8  // most lines of strips; a longer print is cut
)

// chunks splits a sequence into cycles that repeat and parts that don't.
func chunks(steps []assign.Step) (all []chunk) {
	for i := 0; i < len(steps); {
		cycle, times := repeats(steps[i:])
		if times > 1 {
			all = append(all, chunk{i, times, steps[i : i+cycle]})
			i += cycle * times
			continue
		}
		if n := len(all) - 1; n >= 0 && all[n].times == 1 && len(all[n].steps) < plainChunk {
			all[n].steps = steps[all[n].start : i+1]
		} else {
			all = append(all, chunk{i, 1, steps[i : i+1]})
		}
		i++
	}
	return all
}

// repeats returns the cycle at the beginning of steps that covers most of them. A cycle that covers few is not used.
func repeats(steps []assign.Step) (cycle, times int) {
	best := 0
	for c := 1; c <= longestCycle && 2*c <= len(steps); c++ {
		n := c
		for n < len(steps) && same(steps[n], steps[n-c]) {
			n++
		}
		if n /= c; n > 1 && n*c > best && (n > 2 || c > 2) {
			cycle, times, best = c, n, n*c
		}
	}
	return cycle, times
}

// same reports whether two uses are drawn alike.
func same(a, b assign.Step) bool { return a.Slot == b.Slot && a.Load == b.Load }

// strips draws one line for each nozzle, in blocks of at most width characters.
func strips(steps []assign.Step, nozzles int, slots []string, width int) []string {
	cell := 0
	for _, name := range slots {
		cell = max(cell, cellWidth(ledger.Clean(name)))
	}
	heads := []string{"use"}
	for n := range nozzles {
		heads = append(heads, "nozzle "+strconv.Itoa(n+1))
	}
	margin := len(heads[nozzles])
	var lines []string
	blocks, room := 0, 0
	block := make([]string, nozzles+1)
	flush := func() {
		if blocks > 0 {
			lines = append(lines, "")
		}
		for i, line := range block {
			lines = append(lines, heads[i]+strings.Repeat(" ", margin-len(heads[i]))+line)
		}
		blocks++
		clear(block)
	}
	for _, c := range chunks(steps) {
		columns := c.draw(nozzles, slots, cell)
		if need := cellWidth(columns[0]); room < need && block[0] != "" {
			flush()
			if blocks == mostBlocks {
				return append(lines, fmt.Sprintf("and %d more uses", len(steps)-c.start))
			}
			room = width - margin
		} else if block[0] == "" {
			room = width - margin
		}
		for i := range block {
			block[i] += columns[i]
		}
		room -= cellWidth(columns[0])
	}
	flush()
	return lines
}

// firstLoaded returns the first slot that a nozzle is loaded with while printing.
func firstLoaded(steps []assign.Step, slots []string) string {
	i := slices.IndexFunc(steps, func(s assign.Step) bool { return s.Load })
	return slots[steps[i].Slot]
}

// draw returns the text of the chunk for the number line and for each nozzle, all of the same width.
func (c chunk) draw(nozzles int, slots []string, cell int) []string {
	head := strconv.Itoa(c.start + 1)
	if c.times > 1 {
		head += " x" + strconv.Itoa(c.times)
	}
	columns := []string{" | " + head}
	for n := range nozzles {
		var b strings.Builder
		b.WriteString(" |")
		for _, s := range c.steps {
			mark, name := " ", "."
			if s.Nozzle == n {
				if name = ledger.Clean(slots[s.Slot]); s.Load {
					mark = ">"
				}
			}
			b.WriteString(mark + name + strings.Repeat(" ", cell-cellWidth(name)) + " ")
		}
		columns = append(columns, strings.TrimRight(b.String(), " "))
	}
	widest := 0
	for _, line := range columns {
		widest = max(widest, cellWidth(line))
	}
	for i, line := range columns {
		columns[i] = line + strings.Repeat(" ", widest-cellWidth(line))
	}
	return columns
}
