package report_test

import (
	"context"
	"encoding/json"
	"fmt"
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
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"wetrule/lint/draw"
	"wetrule/lint/verdict"
)

// browserPath finds a browser by CHROMIUM or on the PATH.
func browserPath(t *testing.T) string {
	t.Helper()
	for _, name := range []string{os.Getenv("CHROMIUM"), "chromium", "chromium-browser", "google-chrome", "google-chrome-stable"} {
		if name == "" {
			continue
		}
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	const missing = "NO BROWSER: the page was not tried in one. Install Chromium, or name it in CHROMIUM."
	if os.Getenv("WETRULE_NO_SKIP") == "1" {
		require.Fail(t, missing)
	}
	t.Skip(missing)
	return ""
}

// tab is a page in a browser, with all that it complained of and asked for.
type tab struct {
	t   *testing.T
	ctx context.Context

	mu       sync.Mutex
	troubles []string
	asked    []string
}

// browser starts a browser once for a test.
func browser(t *testing.T) context.Context {
	t.Helper()
	options := append(append([]chromedp.ExecAllocatorOption{}, chromedp.DefaultExecAllocatorOptions[:]...), chromedp.ExecPath(browserPath(t)), chromedp.WindowSize(1280, 900))
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

// open writes a page to disk and opens it from there.
func open(t *testing.T, parent context.Context, content string, before ...chromedp.Action[chromedp.Void]) *tab {
	t.Helper()
	file := filepath.Join(t.TempDir(), "page.html")
	require.NoError(t, os.WriteFile(file, []byte(content), 0o600))
	x := &tab{t: t}
	ctx, end := chromedp.NewContext(parent)
	t.Cleanup(end)
	x.ctx = ctx
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
		case *page.EventJavascriptDialogOpening:
			x.troubles = append(x.troubles, "dialog: "+e.Message)
		case *network.EventRequestWillBeSent:
			x.asked = append(x.asked, e.Request.URL)
		}
	}))
	_, err := chromedp.Call(ctx, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	_, err = chromedp.Call(ctx, emulation.SetFocusEmulationEnabled, emulation.SetFocusEmulationEnabledParams{Enabled: true})
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
	require.True(x.t, strings.HasPrefix(x.asked[0], "file://"))
}

func eval[T any](x *tab, script string) T {
	x.t.Helper()
	out, err := chromedp.Run(x.ctx, chromedp.Evaluate[T](script))
	require.NoError(x.t, err, script)
	return out
}

// becomes waits until a script says yes.
func (x *tab) becomes(script string) {
	x.t.Helper()
	require.Eventually(x.t, func() bool { return eval[bool](x, script) }, 5*time.Second, 20*time.Millisecond, script)
}

func (x *tab) click(selector string) {
	x.t.Helper()
	eval[bool](x, fmt.Sprintf(`document.querySelector(%q).scrollIntoView({block:"center",behavior:"instant"}), true`, selector))
	require.NoError(x.t, chromedp.Do(x.ctx, chromedp.Click(selector)), selector)
}

func media(features ...string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		var list []*emulation.MediaFeature
		for i := 0; i+1 < len(features); i += 2 {
			list = append(list, &emulation.MediaFeature{Name: features[i], Value: features[i+1]})
		}
		list = append(list, &emulation.MediaFeature{Name: "prefers-reduced-motion", Value: "reduce"})
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: list})
		return err
	})
}

// dim lists texts whose colour stands out less than 4.5 to 1 from what is behind them.
//
// Source: W3C Web Content Accessibility Guidelines 2.2, 1.4.3 and relative luminance (from memory).
const dim = `(() => {
  const parts = (c) => { const m = c.match(/[\d.]+/g).map(Number); return m.length < 4 ? [...m, 1] : m; };
  const light = (c) => { const [r, g, b] = c.slice(0, 3).map((v) => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const ratio = (a, b) => { const [x, y] = [light(a), light(b)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05); };
  const behind = (e) => { for (; e; e = e.parentElement) { const c = parts(getComputedStyle(e).backgroundColor); if (c[3] === 1) return c; if (c[3] > 0) return null; } return [255, 255, 255, 1]; };
  document.querySelectorAll("details").forEach((d) => { d.open = true; });
  const out = [];
  let seen = 0;
  const hold = (e, colour, ground, text) => {
    seen++;
    const r = ground && parts(colour)[3] === 1 ? ratio(parts(colour), ground) : 0;
    if (r < 4.5) out.push(text.trim().slice(0, 40) + " " + colour + " " + r.toFixed(2));
  };
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n = walk.nextNode(); n; n = walk.nextNode()) {
    const e = n.parentElement;
    if (!n.data.trim() || ["SCRIPT", "STYLE", "title"].includes(e.tagName) || !e.getClientRects().length) continue;
    const style = getComputedStyle(e);
    if (!(e instanceof SVGElement)) { hold(e, style.color, behind(e), n.data); continue; }
    const svg = e.ownerSVGElement;
    if (svg.classList.contains("badge")) {
      const fill = getComputedStyle(svg.querySelector("path")).fill;
      hold(e, style.fill, fill === "none" ? behind(svg.parentElement) : parts(fill), n.data);
    } else if (e.dataset.finding) {
      const fill = getComputedStyle(svg.querySelector("path[data-finding='" + e.dataset.finding + "']")).fill;
      hold(e, style.fill, parts(fill), n.data);
    } else {
      hold(e, style.fill, behind(svg.parentElement), n.data);
    }
  }
  return {seen, out};
})()`

type dimmed struct {
	Seen int
	Out  []string
}

func TestPageInABrowser(t *testing.T) {
	ctx := browser(t)
	r := demo(t, "faults")
	content := write(t, "html", minor, r)
	groups := r.Groups()

	t.Run("links", func(t *testing.T) {
		x := open(t, ctx, content, media())
		n := eval[int](x, `document.querySelectorAll(".hits a").length`)
		require.Greater(t, n, 10)
		links := eval[[]string](x, `Array.from(document.querySelectorAll(".entry .seen a")).map((a) => a.getAttribute("href").slice(1))`)
		for i, id := range links {
			if i%4 != 0 {
				continue
			}
			x.click(`.entry a[href="#` + id + `"]`)
			x.becomes(fmt.Sprintf(`location.hash === %q`, "#"+id))
			x.becomes(fmt.Sprintf(`(() => { const b = document.getElementById(%q).getBoundingClientRect(); return b.top >= 0 && b.top < innerHeight && b.width > 0; })()`, id))
			if eval[bool](x, fmt.Sprintf(`document.getElementById(%q).closest("svg") === null`, id)) {
				continue // a sheet that lists it
			}
			// On the drawing, the mark of the finding is below the link, which leads back.
			require.True(t, eval[bool](x, fmt.Sprintf(`(() => {
				const a = document.getElementById(%q), b = a.getBoundingClientRect();
				const n = a.getAttribute("aria-label").match(/^Finding (\d+)/)[1];
				return Array.from(a.closest(".over").querySelectorAll("text[data-finding='" + n + "']")).some((m) => {
					const c = m.getBoundingClientRect(), x = (c.left + c.right) / 2, y = (c.top + c.bottom) / 2;
					return x > b.left && x < b.right && y > b.top && y < b.bottom && a.contains(document.elementFromPoint(x, y));
				});
			})()`, id)), id)
			back := eval[string](x, fmt.Sprintf(`document.getElementById(%q).getAttribute("href")`, id))
			require.NoError(t, chromedp.Do(x.ctx, chromedp.Click(`[id="`+id+`"] rect`)))
			x.becomes(fmt.Sprintf(`location.hash === %q && document.activeElement.id === %q`, back, back[1:]))
			x.becomes(fmt.Sprintf(`(() => { const b = document.getElementById(%q).getBoundingClientRect(); return b.bottom > 0 && b.top < innerHeight; })()`, back[1:]))
		}
		x.silent()
	})

	t.Run("filter", func(t *testing.T) {
		x := open(t, ctx, content, media())
		const entries = `Array.from(document.querySelectorAll(".entry")).filter((e) => e.getClientRects().length).length`
		const lines = `Array.from(document.querySelectorAll(".matrix tr[data-outcome]")).filter((e) => !e.closest("[hidden]")).length`
		all := eval[int](x, lines)
		says := func(found, left int) string {
			return fmt.Sprintf("%d of %d findings and %d of %d lines of the matrix shown", found, len(groups), left, all)
		}
		shown := func() string {
			s := eval[string](x, `document.getElementById("shown").textContent`)
			require.Equal(t, s, says(eval[int](x, entries), eval[int](x, lines)), "the words say what is seen")
			return s
		}
		require.Equal(t, says(len(groups), all), shown())
		require.Equal(t, "polite", eval[string](x, `document.getElementById("shown").getAttribute("aria-live")`))

		count := func(keep func(*verdict.Group) bool) (n int) {
			for _, g := range groups {
				if keep(g) {
					n++
				}
			}
			return n
		}
		x.click(`input[value=major]`)
		major := count(func(g *verdict.Group) bool { return g.Findings[0].Rule.Severity.String() == "major" })
		require.Contains(t, shown(), fmt.Sprintf("%d of %d findings", len(groups)-major, len(groups)))
		x.click(`input[value=major]`)
		x.click(`input[value=nonconforming]`)
		undetermined := count(func(g *verdict.Group) bool { return g.Findings[0].Outcome == verdict.Undetermined })
		require.Equal(t, 1, undetermined)
		require.Contains(t, shown(), fmt.Sprintf("%d of %d findings", undetermined, len(groups)))
		x.click(`input[value=nonconforming]`)
		require.Equal(t, says(len(groups), all), shown())

		eval[bool](x, `(() => { const s = document.getElementById("filter-subject"); s.value = "steam"; return s.dispatchEvent(new Event("input", {bubbles: true})); })()`)
		steam := count(func(g *verdict.Group) bool { return g.Findings[0].Rule.Subject == "steam" })
		require.Positive(t, steam)
		require.Contains(t, shown(), fmt.Sprintf("%d of %d findings", steam, len(groups)))
		require.Equal(t, 1, eval[int](x, `document.querySelectorAll(".matrix .subject:not([hidden])").length`))

		// A link to what the filter hides shows everything again.
		hidden := ""
		for i, g := range groups {
			if g.Findings[0].Rule.Subject != "steam" {
				hidden = fmt.Sprintf("j1-f%d", i+1)
			}
		}
		eval[bool](x, fmt.Sprintf(`(location.hash = %q, true)`, hidden))
		x.becomes(fmt.Sprintf(`document.getElementById(%q).getClientRects().length > 0`, hidden))
		x.becomes(fmt.Sprintf(`document.getElementById("shown").textContent === %q`, says(len(groups), all)))

		require.NoError(t, chromedp.Do(x.ctx, chromedp.SendKeys("#filter-text", "steam_1")))
		x.becomes(`document.body.classList.contains("filtered")`)
		of := count(func(g *verdict.Group) bool { return strings.Contains(strings.Join(g.Subjects(), " "), "steam_1") })
		require.Contains(t, shown(), fmt.Sprintf("%d of %d findings", of, len(groups)))
		x.click(`button[type=reset]`)
		x.becomes(fmt.Sprintf(`document.getElementById("shown").textContent === %q`, says(len(groups), all)))
		x.silent()
	})

	t.Run("without script", func(t *testing.T) {
		x := open(t, ctx, content, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
			_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
			return err
		}), media())
		require.False(t, eval[bool](x, `document.getElementById("shown").textContent !== ""`), "the script has not run")
		require.Equal(t, len(groups), eval[int](x, `Array.from(document.querySelectorAll(".entry")).filter((e) => e.getClientRects().length).length`))
		require.Zero(t, eval[int](x, `document.getElementById("filter").getClientRects().length`), "a filter that cannot work is not shown")
	})

	t.Run("keyboard", func(t *testing.T) {
		x := open(t, ctx, content, media())
		tabbed := func() string {
			require.NoError(t, chromedp.Do(x.ctx, chromedp.KeyEvent("\t")))
			return eval[string](x, `(() => {
				const e = document.activeElement;
				const s = getComputedStyle(e), r = e.querySelector("rect");
				const seen = s.outlineStyle !== "none" && parseFloat(s.outlineWidth) > 0 || e.closest(".hits") && getComputedStyle(r).stroke !== "none";
				return (seen ? "" : "unseen ") + (e.id || e.getAttribute("href") || e.name || e.type || e.tagName);
			})()`)
		}
		require.Equal(t, "#main", tabbed(), "the first stop skips to the review")
		// The page moves the focus a second time when it is told of the new address, and not before that may focus go on.
		eval[bool](x, `(addEventListener("hashchange", () => { window.told = true; }), true)`)
		require.NoError(t, chromedp.Do(x.ctx, chromedp.KeyEvent("\r")))
		x.becomes(`window.told === true && document.activeElement.id === "main"`)
		eval[bool](x, `(document.activeElement.blur(), true)`)
		eval[bool](x, `(document.querySelector(".skip").focus(), true)`)
		reached := map[string]bool{}
		for range 1000 {
			stop := tabbed()
			if stop == "#main" || strings.HasSuffix(stop, "BODY") {
				break // once round
			}
			require.NotContains(t, stop, "unseen", "focus is seen wherever it is")
			reached[stop] = true
		}
		for _, id := range []string{"filter-text", "filter-subject", "severity", "outcome", "reset", "#j1-findings", "#j1-matrix"} {
			require.True(t, reached[id], "%s is not reached: %v", id, reached)
		}
		for _, id := range eval[[]string](x, `Array.from(document.querySelectorAll(".hits a")).map((a) => a.id)`) {
			require.True(t, reached[id], id)
		}
		x.silent()
	})

	t.Run("contrast", func(t *testing.T) {
		for _, name := range []string{"clean", "faults"} {
			one := write(t, "html", minor, append(everything(t), demo(t, name))...)
			for _, scheme := range []string{"light", "dark"} {
				x := open(t, ctx, one, media("prefers-color-scheme", scheme))
				require.Equal(t, scheme == "dark", eval[bool](x, `matchMedia("(prefers-color-scheme: dark)").matches && getComputedStyle(document.body).backgroundColor !== "rgb(255, 255, 255)"`))
				d := eval[dimmed](x, dim)
				require.Greater(t, d.Seen, 1000)
				require.Empty(t, d.Out, "%s %s", name, scheme)
			}
		}
	})

	t.Run("phone", func(t *testing.T) {
		long := strings.Repeat("a", 60)
		odd := &verdict.Review{File: "jobs/" + long + long + ".yaml", Reference: long, Problems: everything(t)[1].Problems}
		for _, reviews := range [][]*verdict.Review{{r}, {r, odd}, everything(t)} {
			x := open(t, ctx, write(t, "html", minor, reviews...), chromedp.EmulateViewport(360, 740, chromedp.EmulateMobile, chromedp.EmulateTouch), media())
			eval[bool](x, `(document.querySelectorAll("details").forEach((d) => { d.open = true; }), true)`)
			require.Equal(t, 360, eval[int](x, `innerWidth`))
			require.Equal(t, 360, eval[int](x, `document.documentElement.scrollWidth`), "the page does not scroll sideways")
			wide := eval[[]string](x, `Array.from(document.querySelectorAll("body *")).filter((e) => !e.closest(".scroll, .skip, .hidden") && e.getBoundingClientRect().right > 361).map((e) => e.tagName + "." + e.className)`)
			require.Empty(t, wide)
			if reviews[0] == r {
				require.True(t, eval[bool](x, `Array.from(document.querySelectorAll(".matrix .scroll")).some((e) => e.scrollWidth > e.clientWidth)`), "the matrix scrolls in its box")
			}
		}
	})

	t.Run("paper", func(t *testing.T) {
		for _, name := range []string{"clean", "faults"} {
			r := demo(t, name)
			x := open(t, ctx, write(t, "html", minor, r), media("prefers-color-scheme", "dark"))
			pages := func() int {
				pdf, err := chromedp.Run(x.ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
				require.NoError(t, err)
				require.Contains(t, string(pdf), "MediaBox [0 0 594.95996 841.91998]", "A4")
				return len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(pdf, -1))
			}
			whole := pages()
			require.True(t, eval[bool](x, `document.querySelectorAll("details:not([open])").length > 0`), "what was closed for the screen is closed again")
			eval[bool](x, `(document.querySelectorAll("details").forEach((d) => { d.open = true; }), true)`)
			require.Equal(t, whole, pages(), "paper shows what is closed on the screen")
			eval[bool](x, `(document.querySelector(".drawings").remove(), true)`)
			sheets := len(draw.New(r.Job, r.Set).Sheets(r.Groups(), nil))
			require.Greater(t, sheets, 5)
			require.Equal(t, sheets, whole-pages(), "one sheet a page")
			x.silent()
		}
	})

	t.Run("hostile", func(t *testing.T) {
		x := open(t, ctx, write(t, "html", minor, hostileJob(t)), media())
		eval[bool](x, `(document.querySelectorAll("details").forEach((d) => { d.open = true; }), true)`)
		require.Equal(t, "undefined", eval[string](x, `typeof window.ran`))
		require.Equal(t, 1, eval[int](x, `document.scripts.length`))
		require.Zero(t, eval[int](x, `document.querySelectorAll("img, iframe, object, embed, foreignObject, base, [onclick], [onload], [onerror], a:not([href^='#'])").length`))
		require.Positive(t, eval[int](x, `document.querySelectorAll(".hits a").length`))
		require.NotEqual(t, "none", eval[string](x, `getComputedStyle(document.querySelector("main")).display`))
		x.click(".entry .seen a")
		x.silent()
		// Were markup to slip in, the policy of the page would still stop it.
		eval[bool](x, `(document.querySelector("main").insertAdjacentHTML("beforeend", "<img src=x onerror='window.ran=1'><b style='color:red' onclick='window.ran=1' id=slip>x</b>"), document.getElementById("slip").click(), true)`)
		time.Sleep(100 * time.Millisecond)
		require.Equal(t, "undefined", eval[string](x, `typeof window.ran`))
		x.mu.Lock()
		blocked, err := json.Marshal(x.troubles)
		x.mu.Unlock()
		require.NoError(t, err)
		require.Contains(t, string(blocked), "Content Security Policy")
	})
}
