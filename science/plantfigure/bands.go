package plantfigure

import (
	"runtime"
	"sync"
)

// bands splits n rows among the cores. What f writes for a row must depend on that row
// alone, so that results are the same on any machine.
func bands(n int, f func(from, to int)) {
	k := min(runtime.GOMAXPROCS(0), n/64)
	if k < 2 {
		f(0, n)
		return
	}
	var wait sync.WaitGroup
	for i := range k {
		wait.Go(func() { f(n*i/k, n*(i+1)/k) })
	}
	wait.Wait()
}
