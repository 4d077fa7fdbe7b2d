package judge

import (
	"context"
	"sync"

	"github.com/open-policy-agent/opa/v1/storage"
	"github.com/open-policy-agent/opa/v1/storage/inmem"
)

// lateStore holds the data of rows, which is made when a policy reads it for the first time. Policies that are told what is in
// doubt never do, and making it is most of the work of preparing an engine.
type lateStore struct {
	storage.Store // an empty one, for everything besides reading

	full func() (*openStore, error)
}

type openStore struct {
	storage.Store
	txn storage.Transaction
}

func newLateStore(data func() map[string]any) *lateStore {
	return &lateStore{Store: inmem.New(), full: sync.OnceValues(func() (*openStore, error) {
		s := inmem.NewFromObjectWithOpts(data(), inmem.OptRoundTripOnWrite(true), inmem.OptReturnASTValuesOnRead(true))
		txn, err := s.NewTransaction(context.Background())
		return &openStore{s, txn}, err
	})}
}

// Read reads from the data, whatever the transaction: nothing is ever written.
func (s *lateStore) Read(ctx context.Context, _ storage.Transaction, path storage.Path) (any, error) {
	full, err := s.full()
	if err != nil {
		return nil, err
	}
	return full.Store.Read(ctx, full.txn, path)
}
