package judge

import (
	"errors"
	"fmt"
	"runtime"
	"runtime/metrics"
	"sync"
	"time"

	"github.com/open-policy-agent/opa/v1/ast"

	"wetrule/lint/jobfile"
	"wetrule/lint/rulebook"
)

// Bounds of the Rego of rulebooks. They keep what strangers write from taking the machine; no honest rule comes near them.
const (
	MaxRegoFile = rulebook.MaxRegoFile // bytes in one file
	MaxRego     = 2 << 20              // bytes in all files of a review
	// MaxNesting is how deep comprehensions and every may lie in one another: the time to compile them doubles with each level.
	MaxNesting = 8
	// MaxElse is how many else branches a rule may have: the time to compile them grows with the square.
	MaxElse = 100
	// MaxHeap is by how much the memory in use may grow while one job is evaluated.
	MaxHeap = 256 << 20
	// CompileDeadline bounds the time that compiling may take.
	CompileDeadline = 10 * time.Second

	// Grace is the time that a stopped evaluation has to end. Some work of the policy engine cannot be stopped: two values that hold one another
	// many times over take for ever to compare. Then the process has to end (GiveUp).
	Grace = 2 * time.Second

	watchAfter = 20 * time.Millisecond // evaluations that are over by then are not watched
	watchEvery = 5 * time.Millisecond
)

// GiveUp is told of an evaluation that was stopped and does not end. It goes on, and takes time and memory, so a program should set this to what
// ends the process, before it reviews anything. It is called from another goroutine. Nil leaves the evaluation be.
var GiveUp func(error)

// ErrTooMuchMemory says that policies used more memory than they may.
var ErrTooMuchMemory = fmt.Errorf("the rules took more than %d MiB of memory", MaxHeap>>20)

var errCompileTooLong = fmt.Errorf("the Rego takes longer than %d s to compile; write simpler rules", int(CompileDeadline.Seconds()))

// watch stops an evaluation that lasts too long or takes too much memory. One that is over soon costs no more than a timer.
type watch struct {
	stop     func()
	giveUp   func(error) // nil: nobody to tell
	until    time.Time
	mu       sync.Mutex
	timer    *time.Timer
	over     bool
	baseline uint64
	looked   bool
	told     bool
	why      error
}

// watched begins to watch. stop is called once, from another goroutine, and after it giveUp, when the evaluation goes on all the same.
func watched(deadline time.Duration, stop func(), giveUp func(error)) *watch {
	w := &watch{stop: stop, giveUp: giveUp, until: time.Now().Add(deadline)}
	w.mu.Lock()
	w.timer = time.AfterFunc(min(watchAfter, deadline), w.look)
	w.mu.Unlock()
	return w
}

// done ends the watch and says why the evaluation was stopped, if it was.
func (w *watch) done() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.over = true
	w.timer.Stop()
	return w.why
}

func (w *watch) look() {
	now := inUse()
	w.mu.Lock()
	defer w.mu.Unlock()
	switch {
	case w.over:
		return
	case w.why != nil: // it has been told to stop
		if time.Now().After(w.until) || now > w.baseline+2*MaxHeap {
			if w.giveUp != nil {
				w.giveUp(w.why)
			}
			return
		}
	case !time.Now().Before(w.until):
		w.why = ErrTooLong
	case !w.looked:
		w.looked, w.baseline = true, now
	case now < w.baseline:
		w.baseline = now // what was garbage has gone
	case now > w.baseline+MaxHeap:
		// Much of it may be garbage, of this evaluation or of others.
		w.mu.Unlock()
		runtime.GC()
		now = inUse()
		w.mu.Lock()
		if w.over {
			return
		}
		if now > w.baseline+MaxHeap {
			w.why = ErrTooMuchMemory
		}
	}
	if w.why != nil && !w.told {
		w.told = true
		w.until = time.Now().Add(Grace)
		w.stop()
	}
	w.timer.Reset(min(watchEvery, max(time.Until(w.until), 0)))
}

// after says whether a time has passed since it was called.
func after(d time.Duration) func() bool {
	begin := time.Now()
	return func() bool { return time.Since(begin) > d }
}

// inUse is the memory that objects take, in bytes.
func inUse() uint64 {
	s := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
	metrics.Read(s)
	return s[0].Value.Uint64()
}

// bounded says why Rego is refused before it is compiled.
func bounded(m *ast.Module) error {
	var ps jobfile.Problems
	refuse := func(l *ast.Location, format string, args ...any) {
		p := jobfile.Problem{Message: fmt.Sprintf(format, args...)}
		if l != nil {
			p.File, p.Line, p.Col = l.File, l.Row, l.Col
		}
		ps = append(ps, p)
	}
	for _, r := range m.Rules {
		n := 0
		for e := r.Else; e != nil; e = e.Else {
			if n++; n > MaxElse {
				refuse(r.Loc(), "the rule has more than %d else branches", MaxElse)
				break
			}
		}
	}
	depth, told := 0, false
	var at *ast.Location
	nests := func(x any) bool {
		switch x := x.(type) {
		case *ast.ArrayComprehension, *ast.SetComprehension, *ast.ObjectComprehension:
			return true
		case *ast.Every:
			at = x.Loc()
			return true
		case *ast.Expr:
			at = x.Loc()
		case *ast.Term:
			at = x.Loc()
		}
		return false
	}
	ast.NewBeforeAfterVisitor(func(x any) bool {
		if nests(x) {
			if depth++; depth > MaxNesting && !told {
				told = true
				refuse(at, "comprehensions and every lie more than %d deep in one another; give the inner ones rules of their own", MaxNesting)
			}
		}
		return false
	}, func(x any) {
		if nests(x) {
			depth--
		}
	}).Walk(m)
	if len(ps) > 0 {
		return ps
	}
	return nil
}

// boundedText says why files of Rego are refused before they are parsed.
func boundedText(modules []rulebook.Module) error {
	total := 0
	for _, m := range modules {
		if total += len(m.Text); len(m.Text) > MaxRegoFile {
			return jobfile.Problems{{File: m.File, Message: fmt.Sprintf("the file has %d bytes; at most %d are allowed in a file of Rego", len(m.Text), MaxRegoFile)}}
		}
		if total > MaxRego {
			return jobfile.Problems{{File: m.File, Message: fmt.Sprintf("with this file the Rego of the rulebooks has more than %d bytes", MaxRego)}}
		}
	}
	return nil
}

// compile compiles modules, which may not take longer than CompileDeadline.
func compile(c *ast.Compiler, modules map[string]*ast.Module) error {
	return within(CompileDeadline, func() error {
		if c.Compile(modules); c.Failed() {
			return problems(c.Errors)
		}
		return nil
	})
}

// within runs what cannot be called off. When it takes too long, or too much memory, it is left to itself; the caller ends with an error soon after.
func within(deadline time.Duration, f func() error) error {
	result := make(chan error, 1)
	stopped := make(chan struct{})
	w := watched(deadline, func() { close(stopped) }, nil)
	go func() {
		defer func() {
			if p := recover(); p != nil {
				result <- fmt.Errorf("the policy engine broke off: %v", p)
			}
		}()
		result <- f()
	}()
	select {
	case err := <-result:
		_ = w.done()
		return err
	case <-stopped:
		if err := w.done(); !errors.Is(err, ErrTooLong) {
			return err
		}
		return errCompileTooLong
	}
}
