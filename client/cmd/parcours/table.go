package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"
)

// column is a column of a table of things of a kind.
type column[T any] struct {
	// head is what people read above it, with the unit; "" leaves it to spreadsheets.
	head string
	text func(T) string
	// name is what spreadsheets have above it, the contract's field; "" leaves it to people.
	name  string
	value func(T) any
	// left sets texts to the left. They are cut where there is no room, or go on in further
	// lines where the column wraps, which only the last may.
	left, wraps bool
	// spare is the order in which columns are left out where there is no room, from 1 on; 0
	// stays.
	spare int
}

// table is a table of things.
type table[T any] struct {
	title   string
	columns []column[T]
	rows    []T
}

// leastText is what a column of texts is cut down to at most.
const leastText = 14

// gutter stands between columns.
const gutter = "  "

// people prints the table for people; nothing where it is empty.
func (t table[T]) people(out io.Writer, s screen) {
	shown := slices.DeleteFunc(slices.Clone(t.columns), func(c column[T]) bool { return c.head == "" || t.empty(c) })
	if len(t.rows) == 0 || len(shown) == 0 {
		return
	}
	shown, left := t.fit(shown, s.width)
	if t.title != "" {
		fmt.Fprintln(out, s.style(bold, t.title))
	}
	widths := t.widths(shown)
	t.narrow(shown, widths, s.width)
	line := make([]string, len(shown))
	for i, c := range shown {
		line[i] = set(c.head, widths[i], c.left)
	}
	fmt.Fprintln(out, s.style(dim, strings.TrimRight(strings.Join(line, gutter), " ")))
	for _, row := range t.rows {
		for i, c := range shown {
			line[i] = set(plain(c.text(row)), widths[i], c.left)
		}
		last := len(shown) - 1
		if shown[last].wraps && s.width > 0 {
			line[last] = wrapped(plain(shown[last].text(row)), widths, s)
		}
		fmt.Fprintln(out, strings.TrimRight(strings.Join(line, gutter), " "))
	}
	if left > 0 {
		fmt.Fprintln(out, s.style(dim, s.wrap(fmt.Sprintf("(Columns that have no room here: %d; --csv has them all.)", left), " ")))
	}
}

// wrapped is the text of the last column in as many lines as it takes.
func wrapped(text string, widths []int, s screen) string {
	before := 0
	for _, w := range widths[:len(widths)-1] {
		before += w + len(gutter)
	}
	within := screen{width: max(s.width-before, leastText)}
	return strings.ReplaceAll(within.wrap(text, ""), "\n", "\n"+strings.Repeat(" ", before))
}

// empty reports whether a column has nothing in any row.
func (t table[T]) empty(c column[T]) bool {
	return !slices.ContainsFunc(t.rows, func(row T) bool { x := c.text(row); return x != "" && x != absent })
}

// fit leaves out columns until the rest has room, and returns how many.
func (t table[T]) fit(columns []column[T], width int) (shown []column[T], left int) {
	shown = columns
	for width > 0 && t.least(shown) > width {
		worst := -1
		for i, c := range shown {
			if c.spare > 0 && (worst < 0 || c.spare < shown[worst].spare) {
				worst = i
			}
		}
		if worst < 0 {
			break
		}
		shown = slices.Delete(shown, worst, worst+1)
		left++
	}
	return shown, left
}

// least is the least width of columns, texts cut as far as they may be.
func (t table[T]) least(columns []column[T]) int {
	sum := len(gutter) * (len(columns) - 1)
	for i, w := range t.widths(columns) {
		if columns[i].left {
			w = min(w, max(leastText, wide(columns[i].head)))
		}
		sum += w
	}
	return sum
}

// widths are those that the columns' contents ask for.
func (t table[T]) widths(columns []column[T]) []int {
	widths := make([]int, len(columns))
	for i, c := range columns {
		widths[i] = wide(c.head)
		for _, row := range t.rows {
			widths[i] = max(widths[i], wide(plain(c.text(row))))
		}
	}
	return widths
}

// narrow makes columns of texts narrower, the widest first, until all have room.
func (t table[T]) narrow(columns []column[T], widths []int, width int) {
	for width > 0 {
		sum, widest := len(gutter)*(len(columns)-1), -1
		for i, w := range widths {
			sum += w
			if columns[i].left && w > max(leastText, wide(columns[i].head)) && (widest < 0 || w > widths[widest]) {
				widest = i
			}
		}
		if sum <= width || widest < 0 {
			return
		}
		widths[widest]--
	}
}

// varied is a column's text where rows differ in it, else nothing, so that the column is left
// out.
func varied[T any](rows []T, text func(T) string) func(T) string {
	if !slices.ContainsFunc(rows, func(row T) bool { return text(row) != text(rows[0]) }) {
		return func(T) string { return "" }
	}
	return text
}

// set sets a text in a width.
func set(text string, width int, left bool) string {
	text = cut(text, width)
	pad := strings.Repeat(" ", width-wide(text))
	if left {
		return text + pad
	}
	return pad + text
}

// spreadsheet writes the table as RFC 4180 has it, with a header.
func (t table[T]) spreadsheet(out io.Writer) error {
	w := csv.NewWriter(out)
	w.UseCRLF = true
	named := slices.DeleteFunc(slices.Clone(t.columns), func(c column[T]) bool { return c.name == "" })
	record := make([]string, len(named))
	for i, c := range named {
		record[i] = c.name
	}
	err := w.Write(record)
	for _, row := range t.rows {
		for i, c := range named {
			record[i] = cell(c.value(row))
		}
		if err == nil {
			err = w.Write(record)
		}
	}
	w.Flush()
	if err == nil {
		err = w.Error()
	}
	return err
}

// cell writes a value for a spreadsheet: "" for none; a text so that it can't become a formula.
func cell(value any) string {
	v := reflect.ValueOf(value)
	for v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return ""
		}
		v = v.Elem()
	}
	switch v.Kind() {
	case reflect.Invalid:
		return ""
	case reflect.Float64:
		return strconv.FormatFloat(v.Float(), 'f', -1, 64)
	case reflect.String:
		return inert(plain(v.String()))
	default:
		return fmt.Sprint(v.Interface())
	}
}

// inert is a text that a spreadsheet doesn't take for a formula.
func inert(text string) string {
	if strings.IndexFunc(text, func(r rune) bool { return strings.ContainsRune("=+-@＝＋－＠", r) }) == 0 {
		return "'" + text
	}
	return text
}
