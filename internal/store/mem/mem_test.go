package mem_test

import (
	"testing"

	"seatproof/internal/store"
	"seatproof/internal/store/mem"
	"seatproof/internal/store/storetest"
)

func TestStore(t *testing.T) {
	storetest.Run(t, func(testing.TB) store.Store { return mem.New() })
}
