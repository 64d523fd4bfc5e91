package ledger

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"sync"
)

// blank is a ledger in which nothing was recorded: its file and how its tables
// are made. It is made in memory.
type blank struct {
	file   []byte
	tables string
}

// blanks are the answers of blankOf by the steps of the schema: to make the tables
// takes longer than all else that a start does with a small ledger.
var blanks sync.Map

// blankOf is the ledger that the steps of a schema make.
func blankOf(schema []string) (blank, error) {
	steps := strings.Join(schema, "\n")
	if known, is := blanks.Load(steps); is {
		return known.(blank), nil
	}
	made, err := makeBlank(schema)
	if err == nil {
		blanks.Store(steps, made)
	}
	return made, err
}

func makeBlank(schema []string) (b blank, err error) {
	db, err := connect("", "mode=memory")
	if err != nil {
		return b, err
	}
	defer func() { _ = db.Close() }()
	if err := mark(db); err != nil {
		return b, err
	}
	if err := migrate(db, schema); err != nil {
		return b, err
	}
	if b.tables, err = tablesOf(db); err != nil {
		return b, err
	}
	b.file, err = fileOf(db)
	return b, err
}

// mark makes an empty database one of the ledger's kind. The smallest pages keep
// small the write of a row that changes; their size cannot change once there is a
// log.
func mark(db *sql.DB) error {
	for _, pragma := range []string{"page_size = 512", fmt.Sprintf("application_id = %d", applicationID)} {
		if _, err := db.Exec("PRAGMA " + pragma); err != nil {
			return err
		}
	}
	return nil
}

// begun is the file of a new ledger that begins with a checkpoint.
func (b blank) begun(birth *checkpoint) ([]byte, error) {
	parts, err := birth.parts()
	if err != nil {
		return nil, err
	}
	db, err := connect("", "mode=memory")
	if err != nil {
		return nil, err
	}
	defer func() { _ = db.Close() }()
	if err := onConn(db, func(c memory) error { return c.Deserialize(b.file) }); err != nil {
		return nil, err
	}
	for part, data := range parts {
		if _, err := db.Exec("INSERT INTO checkpoint (part, data, sum) VALUES (?, ?, ?)", part, deflatePart(data), partSum(part, data)); err != nil {
			return nil, err
		}
	}
	return fileOf(db)
}

// memory is a connection to a database in memory that can be had as the bytes of
// a file.
type memory interface {
	Serialize() ([]byte, error)
	Deserialize(file []byte) error
}

func onConn(db *sql.DB, do func(memory) error) error {
	c, err := db.Conn(context.Background())
	if err != nil {
		return err
	}
	defer func() { _ = c.Close() }()
	return c.Raw(func(raw any) error { return do(raw.(memory)) })
}

// fileOf is a database in memory as a file.
func fileOf(db *sql.DB) (file []byte, err error) {
	err = onConn(db, func(c memory) error {
		file, err = c.Serialize()
		return err
	})
	return file, err
}

// logging marks a file as one with a write-ahead log, which a database in memory
// cannot have: the bytes 18 and 19 of its header, https://www.sqlite.org/fileformat2.html.
func logging(file []byte) []byte {
	const writeVersion, readVersion, withLog = 18, 19, 2
	file[writeVersion], file[readVersion] = withLog, withLog
	return file
}
