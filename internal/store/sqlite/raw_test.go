package sqlite

import (
	"database/sql"
	"net/url"
)

// rawOpen opens a file as it is, without the store.
func rawOpen(path string) (*sql.DB, error) {
	db, err := sql.Open("sqlite", address(path, url.Values{}))
	if err == nil {
		db.SetMaxOpenConns(1)
	}
	return db, err
}
