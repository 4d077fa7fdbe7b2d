package workpack_test

import (
	"context"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// browser starts a browser, named by CHROMIUM or found on the PATH.
func browser(t *testing.T) context.Context {
	t.Helper()
	found := ""
	for _, name := range []string{os.Getenv("CHROMIUM"), "chromium", "chromium-browser", "google-chrome", "google-chrome-stable"} {
		if path, err := exec.LookPath(name); name != "" && err == nil {
			found = path
			break
		}
	}
	if found == "" {
		const missing = "NO BROWSER: the pack was not tried in one. Install Chromium, or name it in CHROMIUM."
		if os.Getenv("WETRULE_NO_SKIP") == "1" {
			require.Fail(t, missing)
		}
		t.Skip(missing)
	}
	options := append(append([]chromedp.ExecAllocatorOption{}, chromedp.DefaultExecAllocatorOptions[:]...), chromedp.ExecPath(found), chromedp.WindowSize(1280, 900))
	if os.Geteuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 3*time.Minute)
	t.Cleanup(cancel)
	ctx, stop := chromedp.NewExecAllocator(ctx, options...)
	t.Cleanup(stop)
	ctx, end := chromedp.NewContext(ctx)
	t.Cleanup(end)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("about:blank")))
	return ctx
}

// tab is a page in a browser, with what it complained of and asked for.
type tab struct {
	t               *testing.T
	ctx             context.Context
	mu              sync.Mutex
	troubles, asked []string
}

func open(t *testing.T, parent context.Context, content string, before ...chromedp.Action[chromedp.Void]) *tab {
	t.Helper()
	file := filepath.Join(t.TempDir(), "pack.html")
	require.NoError(t, os.WriteFile(file, []byte(content), 0o600))
	ctx, end := chromedp.NewContext(parent)
	t.Cleanup(end)
	x := &tab{t: t, ctx: ctx}
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("about:blank")))
	require.NoError(t, chromedp.Listen(ctx, func(event any) {
		x.mu.Lock()
		defer x.mu.Unlock()
		switch e := event.(type) {
		case *runtime.EventConsoleAPICalled:
			x.troubles = append(x.troubles, "console: "+string(e.Type))
		case *runtime.EventExceptionThrown:
			x.troubles = append(x.troubles, "exception: "+e.ExceptionDetails.Text)
		case *cdplog.EventEntryAdded:
			x.troubles = append(x.troubles, "log: "+e.Entry.Text)
		case *cdppage.EventJavascriptDialogOpening:
			x.troubles = append(x.troubles, "dialog: "+e.Message)
		case *network.EventRequestWillBeSent:
			x.asked = append(x.asked, e.Request.URL)
		}
	}))
	_, err := chromedp.Call(ctx, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	require.NoError(t, chromedp.Do(ctx, before...))
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate((&url.URL{Scheme: "file", Path: filepath.ToSlash(file)}).String())))
	return x
}

// silent holds that the page neither complained nor asked for anything but itself.
func (x *tab) silent() {
	x.t.Helper()
	x.mu.Lock()
	defer x.mu.Unlock()
	require.Empty(x.t, x.troubles)
	require.Len(x.t, x.asked, 1, "the page alone is asked for")
}

func eval[T any](x *tab, script string) T {
	x.t.Helper()
	out, err := chromedp.Run(x.ctx, chromedp.Evaluate[T](script))
	require.NoError(x.t, err, script)
	return out
}

func scheme(name string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}}})
		return err
	})
}

// dim lists texts outside drawings whose colour stands out less than 4.5 to 1 from what is behind them. Those of drawings are held by their own tests.
//
// Source: W3C Web Content Accessibility Guidelines 2.2, 1.4.3 and relative luminance (from memory).
const dim = `(() => {
  const parts = (c) => { const m = c.match(/[\d.]+/g).map(Number); return m.length < 4 ? [...m, 1] : m; };
  const light = (c) => { const [r, g, b] = c.slice(0, 3).map((v) => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const behind = (e) => { for (; e; e = e.parentElement) { const c = parts(getComputedStyle(e).backgroundColor); if (c[3] === 1) return c; if (c[3] > 0) return null; } return [255, 255, 255, 1]; };
  const out = [];
  let seen = 0;
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n = walk.nextNode(); n; n = walk.nextNode()) {
    const e = n.parentElement;
    if (!n.data.trim() || e instanceof SVGElement || !e.getClientRects().length) continue;
    seen++;
    const [x, y] = [light(parts(getComputedStyle(e).color)), light(behind(e) || [127, 127, 127])].sort((p, q) => q - p);
    if ((x + 0.05) / (y + 0.05) < 4.5) out.push(n.data.trim().slice(0, 40));
  }
  return {seen, out};
})()`

func TestPackInABrowser(t *testing.T) {
	ctx := browser(t)
	t.Run("contrast", func(t *testing.T) {
		for _, name := range []string{"clean", "faults"} {
			for _, s := range []string{"light", "dark"} {
				x := open(t, ctx, markup(t, pack(t, name, nil)), scheme(s))
				d := eval[struct {
					Seen int
					Out  []string
				}](x, dim)
				require.Greater(t, d.Seen, 300)
				require.Empty(t, d.Out, "%s %s", name, s)
				x.silent()
			}
		}
	})
	t.Run("phone", func(t *testing.T) {
		for _, source := range []string{markup(t, pack(t, "faults", nil)), markup(t, hostilePack(t))} {
			x := open(t, ctx, source, chromedp.EmulateViewport(360, 740, chromedp.EmulateMobile, chromedp.EmulateTouch))
			require.Equal(t, 360, eval[int](x, `document.documentElement.scrollWidth`), "the page does not scroll sideways")
			require.Empty(t, eval[[]string](x, `Array.from(document.querySelectorAll("body *")).filter((e) => !e.closest(".scroll, .skip, .hidden") && e.getBoundingClientRect().right > 361).map((e) => e.tagName + "." + e.className)`))
			x.silent()
		}
	})
	t.Run("hostile", func(t *testing.T) {
		x := open(t, ctx, markup(t, hostilePack(t)))
		require.Equal(t, "undefined", eval[string](x, `typeof window.ran`))
		require.Zero(t, eval[int](x, `document.scripts.length + document.querySelectorAll("img, iframe, object, embed, base, [onclick], [onerror]").length`))
		require.NotEqual(t, "none", eval[string](x, `getComputedStyle(document.querySelector("main")).display`))
		x.silent()
	})
	t.Run("links", func(t *testing.T) {
		x := open(t, ctx, markup(t, pack(t, "clean", nil)))
		require.NoError(t, chromedp.Do(x.ctx, chromedp.Click(`.contents a[href="#handover"]`)))
		require.Eventually(t, func() bool {
			return eval[bool](x, `(() => { const b = document.getElementById("handover").getBoundingClientRect(); return b.top >= 0 && b.top < innerHeight; })()`)
		}, 5*time.Second, 20*time.Millisecond)
		x.silent()
	})
	t.Run("paper", func(t *testing.T) {
		for _, name := range []string{"clean", "faults"} {
			p := pack(t, name, nil)
			x := open(t, ctx, markup(t, p), scheme("dark"))
			pages := func() int {
				doc, err := chromedp.Run(x.ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
				require.NoError(t, err)
				require.Contains(t, string(doc), "MediaBox [0 0 594.95996 841.91998]", "A4")
				return len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(doc, -1))
			}
			whole := pages()
			require.Greater(t, whole, len(p.Sections)+5)
			require.Equal(t, "rgb(255, 255, 255)", eval[string](x, `(() => { for (const s of document.styleSheets) for (const r of s.cssRules) if (r.conditionText === "print") for (const q of r.cssRules) if (q.selectorText === "body") return q.style.backgroundColor || q.style.background; return ""; })()`))
			sheets := eval[int](x, `document.querySelectorAll(".sheet").length`)
			require.Greater(t, sheets, 5)
			eval[bool](x, `(document.querySelectorAll(".sheet").forEach((e) => e.remove()), true)`)
			require.Equal(t, sheets-1, whole-pages(), "one sheet a page; the first is below the words of its part")
			x.silent()
		}
	})
	t.Run("without styles that slip in", func(t *testing.T) {
		x := open(t, ctx, markup(t, pack(t, "clean", nil)))
		eval[bool](x, `(document.querySelector("main").insertAdjacentHTML("beforeend", "<img src=x onerror='window.ran=1'>"), true)`)
		time.Sleep(100 * time.Millisecond)
		require.Equal(t, "undefined", eval[string](x, `typeof window.ran`))
		x.mu.Lock()
		defer x.mu.Unlock()
		require.Contains(t, strings.Join(x.troubles, "\n"), "Content Security Policy")
	})
}
