package audit

import "fmt"

// Row is a record as it stands.
type Row struct {
	Key    string
	Digest [32]byte
	Fault  error // why it cannot be read as such a record; nil if it can
}

// Line is what an entry says of a record.
type Line struct {
	Key     string
	Number  int64
	Version int
	Digest  [32]byte
}

// Match holds the records of a table against the entries about them, both in the order of the bytes of their keys and
// then of their numbers. changes says whether such records change: then each version has an entry, else there is one.
// Of neither side more than one item is looked at at a time. It fails only when rows or entries do.
func Match(table string, changes bool, rows func() (Row, bool, error), entries func() (Line, bool, error), report func(Fault)) error {
	m := matching{table: table, changes: changes, entries: entries, report: report}
	if err := m.advance(); err != nil {
		return err
	}
	row, isRow, err := rows()
	for err == nil && (isRow || m.more) {
		if isRow && (!m.more || row.Key < m.line.Key) {
			m.fault(row.Key, "there is no entry of it in the log")
			row, isRow, err = rows()
			continue
		}
		key := m.line.Key
		var last Line
		if last, err = m.lines(); err != nil {
			break
		}
		if !isRow || row.Key != key {
			m.fault(key, "the record is missing that entry %d is about", last.Number)
			continue
		}
		switch {
		case row.Fault != nil:
			m.fault(key, "the record was altered: %v", row.Fault)
		case row.Digest != last.Digest:
			m.fault(key, "the record was altered: it is not as entry %d says", last.Number)
		}
		row, isRow, err = rows()
	}
	return err
}

type matching struct {
	table   string
	changes bool
	entries func() (Line, bool, error)
	report  func(Fault)

	line Line
	more bool
}

func (m *matching) fault(key, format string, args ...any) {
	m.report(Fault{m.table + " " + key, fmt.Sprintf(format, args...)})
}

func (m *matching) advance() error {
	var err error
	m.line, m.more, err = m.entries()
	return err
}

// lines passes over the entries about one record and gives the last.
func (m *matching) lines() (Line, error) {
	last := m.line
	if !m.changes && last.Version != 0 {
		m.fault(last.Key, "entry %d is about version %d of a record that never changes", last.Number, last.Version)
	}
	for {
		if err := m.advance(); err != nil || !m.more || m.line.Key != last.Key {
			return last, err
		}
		switch {
		case !m.changes:
			m.fault(last.Key, "entries %d and %d are both about it, and it never changes", last.Number, m.line.Number)
		case m.line.Version != max(last.Version, 1)+1: // 0 is from before such records had versions
			m.fault(last.Key, "entry %d is about version %d, and the next, %d, about version %d", last.Number, last.Version, m.line.Number, m.line.Version)
		}
		last = m.line
	}
}
