package ledger

import (
	"database/sql"
	"embed"
	"fmt"
)

//go:embed schema/*.sql
var files embed.FS

// schema is the SQL of each version, which makes it from the one before; the
// first makes it from nothing. A released version never changes.
var schema = readSchema()

func readSchema() []string {
	var list []string
	for {
		text, err := files.ReadFile(fmt.Sprintf("schema/%d.sql", len(list)+1))
		if err != nil {
			return list
		}
		list = append(list, string(text))
	}
}

// migrate brings a database to the newest version, each step whole or not at
// all.
func migrate(db *sql.DB, schema []string) error {
	var from int
	if err := db.QueryRow("PRAGMA user_version").Scan(&from); err != nil {
		return err
	}
	for v := from; v < len(schema); v++ {
		if err := step(db, schema[v], v+1); err != nil {
			return fmt.Errorf("bring the ledger to version %d: %w", v+1, err)
		}
	}
	if from == len(schema) {
		return nil
	}
	// Fold the log, so that the version stands in the main file.
	_, err := db.Exec("PRAGMA wal_checkpoint(TRUNCATE)")
	return err
}

func step(db *sql.DB, text string, to int) error {
	tx, err := db.Begin()
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }()
	if _, err := tx.Exec(text); err != nil {
		return err
	}
	if _, err := tx.Exec(fmt.Sprintf("PRAGMA user_version = %d", to)); err != nil {
		return err
	}
	return tx.Commit()
}
