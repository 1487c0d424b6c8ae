package sqlite

import "fmt"

// LimitPages bounds the file, as a full disk would.
func LimitPages(s *DB, n int) error {
	_, err := s.write.Exec(fmt.Sprintf("pragma max_page_count = %d", n))
	return err
}
