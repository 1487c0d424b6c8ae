package draw

// The custom properties of both themes. TestLooksMatchCSS and TestThemeContrast
// read them.
const (
	lightVars = `--d-ink:#1b2430;--d-soft:#535e6b;--d-rule:#dde1e6;--d-paper:#ffffff;` +
		`--d-s0:#1f5f8b;--d-s1:#a4480c;--d-s2:#4d6a1c;--d-s3:#6b3f8f;--d-s4:#59626d;`
	darkVars = `--d-ink:#e6eaef;--d-soft:#a7b1bd;--d-rule:#343c46;--d-paper:#14181d;` +
		`--d-s0:#7fbbe6;--d-s1:#f0a262;--d-s2:#aacb74;--d-s3:#c6a2ea;--d-s4:#b4bdc8;`
)

// CSS is the stylesheet of all pictures and tables: serve it with a page or put
// it into a report. It follows the system's choice of light or dark unless the
// root element says data-theme="light" or "dark", and prints light. A figure
// shows its narrow picture where its own room is at most 560 px. Set the custom
// properties --d-ink, --d-soft, --d-rule, --d-paper and --d-s0 to --d-s4 on
// .d-figure to match a page.
const CSS = `/* pictures and their tables */
.d-figure{` + lightVars + `margin:0;color:var(--d-ink);container-type:inline-size}
@media (prefers-color-scheme:dark){:root:not([data-theme="light"]) .d-figure{` + darkVars + `}}
[data-theme="dark"] .d-figure{` + darkVars + `}
.d-pic{display:block;width:100%;max-width:1200px;height:auto;margin:0 auto}
.d-pic text{font-variant-numeric:tabular-nums}
.d-wide .d-pic{max-width:960px}
.d-narrow{display:none}
.d-narrow .d-pic{max-width:520px}
.d-ink{fill:var(--d-ink)}
.d-soft{fill:var(--d-soft)}
.d-paper{fill:var(--d-paper)}
.d-ink-line{stroke:var(--d-ink)}
.d-soft-line{stroke:var(--d-soft)}
.d-rule{stroke:var(--d-rule)}
.d-halo{stroke:var(--d-paper)}
.d-paper-line{stroke:var(--d-paper)}
.d-s0{stroke:var(--d-s0)}
.d-s1{stroke:var(--d-s1)}
.d-s2{stroke:var(--d-s2)}
.d-s3{stroke:var(--d-s3)}
.d-s4{stroke:var(--d-s4)}
.d-f0{fill:var(--d-s0)}
.d-f1{fill:var(--d-s1)}
.d-f2{fill:var(--d-s2)}
.d-f3{fill:var(--d-s3)}
.d-f4{fill:var(--d-s4)}
.d-twin{margin-top:.75rem}
.d-twin summary{cursor:pointer;color:var(--d-soft);padding:.6rem 0;min-height:1.5rem}
.d-scroll{overflow-x:auto}
.d-table{border-collapse:collapse;font-variant-numeric:tabular-nums;font-size:.9375rem}
.d-table caption{text-align:left;padding:.25rem 0 .5rem;color:var(--d-soft)}
.d-table th,.d-table td{padding:.35rem 1rem .35rem 0;border-bottom:1px solid var(--d-rule);text-align:left;font-weight:400;vertical-align:top}
.d-table thead th{font-weight:600}
.d-table .d-num{text-align:right}
.d-table .d-code{white-space:nowrap}
@container (max-width:560px){.d-wide{display:none}.d-narrow{display:block}}
@supports not (container-type:inline-size){@media (max-width:560px){.d-wide{display:none}.d-narrow{display:block}}}
@media print{
.d-figure,:root:not([data-theme="light"]) .d-figure,[data-theme="dark"] .d-figure{` + lightVars + `break-inside:avoid}
.d-pic{print-color-adjust:exact;-webkit-print-color-adjust:exact}
.d-wide{display:block}.d-narrow{display:none}
.d-twin summary{display:none}
}
`

// seriesHex and seriesDash tell lines apart, by colour and by dash. The colours
// equal --d-s0 to --d-s4 of the light theme.
var (
	seriesHex  = [...]string{"#1f5f8b", "#a4480c", "#4d6a1c", "#6b3f8f", "#59626d"}
	seriesDash = [...]string{"", "8 4", "2 3", "9 3 2 3", "14 5"}
)

// seriesLine is the look of the i-th line.
func seriesLine(i int) look {
	k := i % len(seriesHex)
	l := `class="d-s` + string(rune('0'+k)) + `" fill="none" stroke="` + seriesHex[k] + `" stroke-width="2" stroke-linejoin="round"`
	if seriesDash[k] != "" {
		l += ` stroke-dasharray="` + seriesDash[k] + `"`
	}
	return look(l)
}

// seriesFill is the look of areas and text of the i-th line.
func seriesFill(i int) look {
	k := i % len(seriesHex)
	return look(`class="d-f` + string(rune('0'+k)) + `" fill="` + seriesHex[k] + `"`)
}

// seriesBand is the look of the band about the i-th line.
func seriesBand(i int) look { return seriesFill(i) + ` fill-opacity="0.15"` }
