//! The look of the pages: black on white, one dark blue, one dark red (both above 7:1 on white), shapes and
//! patterns wherever something is told apart.

use crate::print::base64;
use sha2::{Digest, Sha256};

use maud::{DOCTYPE, Markup, PreEscaped, html};

/// Rules for both pages.
const RULES: &str = "
:root{color-scheme:light;--ink:#16181d;--soft:#4a4f5a;--rule:#b9bec7;--paper:#fff;--wash:#f3f4f6;--blue:#0a4a8f;--red:#9c1c13}
*{box-sizing:border-box}
html{font:100%/1.5 'Liberation Sans','Helvetica Neue',Arial,sans-serif;color:var(--ink);background:var(--paper)}
body{margin:0 auto;padding:1.25rem 1rem 3rem;max-width:58rem}
h1{font-size:1.6rem;line-height:1.2;margin:0 0 .25rem;overflow-wrap:anywhere}
h2{font-size:1.15rem;margin:2.2rem 0 .6rem;padding-top:.7rem;border-top:2px solid var(--ink)}
h3{font-size:1rem;margin:0}
p{margin:.3rem 0;max-width:46rem}
a{color:var(--blue)}
a:focus-visible,[tabindex]:focus-visible{outline:3px solid var(--blue);outline-offset:2px}
.sub,.foot{color:var(--soft)}
.foot{margin-top:2.5rem;font-size:.9rem}
.say{max-width:none;border:1px solid var(--rule);border-left:.4rem solid var(--ink);padding:.6rem .9rem;margin:1rem 0}
.say.look{border-left-style:double;border-left-width:.7rem}
.say p{margin:.15rem 0}
.scroll{overflow-x:auto}
ul{padding-left:1.2rem;margin:.3rem 0}
@page{margin:14mm}
@media print{html{font-size:10pt}body{max-width:none;padding:0}a{color:inherit}.scroll{overflow:visible}h2,h3{break-after:avoid}}
";

/// Rules for the feedback page.
pub(super) const FEEDBACK: &str = "
.total{font-size:1.35rem;margin:.6rem 0}
.total b{font-size:2rem}
figure{margin:1rem 0}
figure svg{display:block;width:100%;min-width:36rem;height:auto;border:1px solid var(--rule);background:#fff}
.line{fill:none;stroke:var(--blue);stroke-width:.55;stroke-opacity:.75;stroke-linejoin:round}
.like{stroke:var(--red);stroke-width:.9;stroke-dasharray:2.4 1.6;stroke-opacity:1}
.field{fill:none;stroke:var(--ink);stroke-width:.35;stroke-opacity:.6;stroke-dasharray:5 2}
.tip{fill:var(--blue)}
summary{cursor:pointer;padding:.5rem 0;margin-top:2rem;font-weight:bold;min-height:24px}
.frame{fill:none;stroke:var(--soft);stroke-width:.4}
.mark{fill:none;stroke:var(--red);stroke-width:.8}
.halo{fill:none;stroke:#fff;stroke-width:2;stroke-opacity:.75}
.spot{fill:var(--red);stroke:#fff;stroke-width:.5}
.named{font:italic 4.4px 'Liberation Sans',Arial,sans-serif;text-anchor:middle;fill:var(--ink);stroke:#fff;stroke-width:1.4;paint-order:stroke;stroke-linejoin:round}
.number{font:bold 5px 'Liberation Sans',Arial,sans-serif;text-anchor:middle;fill:var(--ink);stroke:#fff;stroke-width:1.4;paint-order:stroke;stroke-linejoin:round}
.notes{list-style:none;padding:0}
.notes li{display:grid;grid-template-columns:2rem 1fr;gap:.6rem;align-items:start;margin:.5rem 0}
.notes p{margin:0}
.key{width:2rem;height:2rem}
.criteria{list-style:none;padding:0;margin:0}
.criteria>li{display:grid;grid-template-columns:1fr auto;gap:.1rem 1rem;padding:.7rem 0;border-top:1px solid var(--rule);break-inside:avoid}
.criteria>li:first-child{border-top:0}
.criteria p,.criteria ul{grid-column:1/-1;margin:.1rem 0}
.got{font-weight:bold;text-align:right;white-space:nowrap}
.boxes{letter-spacing:.1em;font-weight:normal;margin-right:.5em}
.why{color:var(--soft)}
@media print{figure svg{min-width:0}figure{break-inside:avoid}}
";

/// Rules for the class page.
pub(super) const CLASS: &str = "
body{max-width:76rem}
.facts{display:grid;grid-template-columns:repeat(auto-fit,minmax(7.5rem,1fr));gap:.5rem;margin:1rem 0;padding:0;list-style:none}
.facts li{border:1px solid var(--rule);padding:.5rem .7rem}
.facts b{display:block;font-size:1.5rem;line-height:1.2}
.plot{display:block;width:100%;height:auto}
.upright,.all{max-width:58rem}
.lying{display:none;max-width:24rem}
@media (max-width:36rem){.plot.upright{display:none}.plot.lying{display:block}}
.plot text{font:12px 'Liberation Sans',Arial,sans-serif;fill:var(--ink)}
.plot .axis{stroke:var(--ink);stroke-width:1}
.plot .bar{fill:var(--blue);stroke:var(--ink);stroke-width:1}
.plot .part{fill:url(#stripes);stroke:var(--ink);stroke-width:1}
.plot .none{fill:#fff;stroke:var(--ink);stroke-width:1}
.plot .blank{fill:url(#dots);stroke:var(--ink);stroke-width:1}
.keys{display:flex;flex-wrap:wrap;gap:.3rem 1.2rem;padding:0;list-style:none;font-size:.9rem}
.keys svg{display:inline-block;width:1.1rem;height:1.1rem;vertical-align:-.2rem;margin-right:.4rem}
.bars{list-style:none;padding:0;display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,22rem),1fr));gap:.6rem 2rem}
.bars li{break-inside:avoid}
.bars h3{font-weight:normal}
table{border-collapse:collapse;width:100%;font-size:.95rem}
th,td{text-align:left;padding:.35rem .4rem;border-bottom:1px solid var(--rule);vertical-align:top}
thead th{border-bottom:2px solid var(--ink);vertical-align:bottom}
td.n,th.n{text-align:right;font-variant-numeric:tabular-nums}
td.n{white-space:nowrap}
th.over{text-align:center;border-bottom:1px solid var(--rule)}
tbody th{font-weight:bold;min-width:9rem}
@media (min-width:70rem){tbody th{min-width:11.5rem}.from{min-width:8.5rem}}
tbody tr.look{background:var(--wash)}
.status{min-width:7rem}
thead button{font:inherit;background:none;border:1px solid var(--rule);padding:.2rem .4rem;min-width:24px;min-height:24px;cursor:pointer;text-align:inherit}
thead button:focus-visible,input:focus-visible,select:focus-visible{outline:3px solid var(--blue);outline-offset:2px}
[aria-sort=ascending] button::after{content:' ▲'}
[aria-sort=descending] button::after{content:' ▼'}
#tools{margin:.6rem 0}
#tools input,#tools select{font:inherit;min-height:24px;max-width:100%;border:1px solid var(--soft)}
.examples{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,12rem),1fr));gap:.8rem;list-style:none;padding:0}
.small{display:block;width:100%;height:auto;background:#fff}
.small .thin,.all .thin{fill:none;stroke:var(--ink);stroke-width:.9}
.frame{fill:none;stroke:var(--soft);stroke-width:.5}
.ring{fill:none;stroke:var(--red);stroke-width:1.6}
.all{display:block;width:100%;height:auto;border:1px solid var(--rule)}
.field{fill:none;stroke:var(--blue);stroke-width:.6;stroke-dasharray:4 2}
.idea{break-inside:avoid;margin:1rem 0}
figure{margin:1rem 0}
@media print{#tools{display:none}thead button{border:0;padding:0}}
.people li{margin:.5rem 0}
.wrongs li{margin:.4rem 0}
.people li,.wrongs li,figcaption{max-width:46rem}
@media print{table{font-size:8pt}th,td{padding:.2rem}tbody th,.status,.from{min-width:0}tr{break-inside:avoid}thead{display:table-header-group}}
";

/// A whole page without a script. The policy forbids the browser to fetch anything, whatever a name or a file may hold.
pub(super) fn page(title: &str, rules: &str, body: &Markup) -> String {
    page_with(title, rules, body, "")
}

/// A whole page; the policy lets just this script run, by its hash.
pub(super) fn page_with(title: &str, rules: &str, body: &Markup, script: &str) -> String {
    let mut policy = "default-src 'none'; img-src data:; style-src 'unsafe-inline'".to_string();
    if !script.is_empty() {
        policy += &format!("; script-src 'sha256-{}'", base64(&Sha256::digest(script.as_bytes())));
    }
    html! {
        (DOCTYPE)
        html lang="en-GB" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy);
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (PreEscaped(RULES)) (PreEscaped(rules)) }
            }
            body {
                (body)
                @if !script.is_empty() { script { (PreEscaped(script)) } }
            }
        }
    }
    .into_string()
}
