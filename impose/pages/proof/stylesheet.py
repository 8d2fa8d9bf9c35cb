"""How the pages look: light and dark, wide and narrow, on screen and on paper. Paper in drawings is always white."""

from __future__ import annotations

# White letters on each of these have a contrast of at least 4.5 to 1 (WCAG 2.2, 1.4.3); a test computes it.
HUE_COLOURS = ("#1c5d9e", "#a8411a", "#2a7340", "#7b3f9d", "#a0205a", "#0d6b77", "#7a5a00", "#4a5568")

_COLOURS = """
:root{color-scheme:light dark;--page:#f4f3ef;--card:#fff;--text:#1d1f21;--quiet:#555b61;--line:#d9d6cd;--link:#0b57a4;
--stop:#b3261e;--warn:#8a4b00;--note:#315b86;--good:#22663a;--tint:#eceae3}
@media (prefers-color-scheme:dark){:root{--page:#17191b;--card:#212427;--text:#eceae6;--quiet:#aeb3b8;--line:#3b4045;
--link:#8ebdf0;--stop:#ff9d94;--warn:#f2bd70;--note:#a3c8ee;--good:#8fd3a4;--tint:#2a2e32}}
"""

_BASE = """
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%;scroll-padding-top:4rem}
body{margin:0;background:var(--page);color:var(--text);
font:1rem/1.5 system-ui,-apple-system,"Segoe UI",Roboto,"Noto Sans","Liberation Sans",Arial,sans-serif;
overflow-wrap:anywhere}
h1,h2,h3,p,dl,dd,ul,ol,figure{margin:0;padding:0}
h1{font-size:clamp(1.6rem,1.2rem + 2vw,2.4rem);line-height:1.15;letter-spacing:-.015em;font-weight:700}
h2{font-size:1.4rem;line-height:1.25;margin:3rem 0 1rem;letter-spacing:-.01em}
h3{font-size:1.1rem;line-height:1.3}
a{color:var(--link);text-underline-offset:.15em}
:focus-visible{outline:3px solid var(--link);outline-offset:2px}
.quiet{color:var(--quiet)}
.small{font-size:.875rem}
.store{position:absolute}
.number{font-variant-numeric:tabular-nums;white-space:nowrap}
"""

_PROOF = """
main,header,footer{max-width:78rem;margin:0 auto;padding:0 clamp(.75rem,3vw,2rem)}
header{padding-top:2rem}
header .quiet{margin-top:.4rem}
footer{padding-top:3rem;padding-bottom:3rem}
.skip{position:absolute;left:-99rem;background:var(--card);padding:.5rem 1rem;z-index:3}
.skip:focus{left:.5rem;top:.5rem}
.facts{display:grid;grid-template-columns:repeat(auto-fit,minmax(9.5rem,1fr));gap:1px;margin-top:1.5rem;
background:var(--line);border:1px solid var(--line);border-radius:.6rem;overflow:hidden}
.facts div{background:var(--card);padding:.8rem 1rem}
.facts dt{color:var(--quiet);font-size:.875rem}
.facts dd{font-size:1.35rem;font-weight:650;line-height:1.25}
.facts dd+dd{font-size:.875rem;font-weight:400;color:var(--quiet);margin-top:.15rem}
.facts .good{color:var(--good);font-weight:600}
.facts .bad{color:var(--warn);font-weight:600}
.toggle{position:fixed;top:0;opacity:0;pointer-events:none}
.bar{position:sticky;top:0;z-index:2;background:var(--page);border-bottom:1px solid var(--line);margin-top:1.5rem}
.bar nav{max-width:78rem;margin:0 auto;padding:.5rem clamp(.75rem,3vw,2rem);display:flex;flex-wrap:wrap;
gap:.25rem 1.1rem;align-items:center;font-size:.95rem}
.bar label{display:inline-flex;gap:.4rem;align-items:center;cursor:pointer;color:var(--quiet)}
.bar .first{margin-left:auto}
.bar label::before{content:"";width:1.9rem;height:1.05rem;border-radius:1rem;border:2px solid var(--quiet);
background:radial-gradient(circle at .42rem 50%,var(--quiet) .3rem,transparent .33rem)}
#names:checked~.bar [for=names]::before,#marks:checked~.bar [for=marks]::before{border-color:var(--link);
background:radial-gradient(circle at calc(100% - .42rem) 50%,var(--link) .3rem,transparent .33rem)}
#names:focus-visible~.bar [for=names],#marks:focus-visible~.bar [for=marks]{outline:3px solid var(--link);
outline-offset:2px;border-radius:.3rem}
#names:not(:checked)~main .tags{display:none}
#marks:not(:checked)~main .aid{display:none}
#marks:not(:checked)~main :is(.zone,.cell,.area){visibility:hidden}
.sheet{background:var(--card);border:1px solid var(--line);border-radius:.6rem;padding:clamp(.6rem,2vw,1.25rem);
margin-bottom:1.5rem;display:grid;grid-template-columns:minmax(0,1fr) minmax(15rem,19rem);gap:.75rem 1.5rem;
scroll-margin-top:4rem}
.sheet:not(:has(.key)){grid-template-columns:minmax(0,1fr)}
.many .sheet{content-visibility:auto;contain-intrinsic-size:auto 60rem}
.many .order{content-visibility:auto;contain-intrinsic-size:auto 40rem}
.sheet>div:first-child{grid-column:1/-1;display:flex;flex-wrap:wrap;gap:0 .8rem;align-items:baseline}
.sheet h3{font-size:1.2rem}
.paper{display:block;width:100%;max-height:max(100vh - 7rem,58rem)}
.long{max-height:none}
.stock{fill:#fff;stroke:#8d9298;stroke-width:1px;vector-effect:non-scaling-stroke}
.area{fill:none;stroke:#9aa0a6;stroke-width:1px;stroke-dasharray:4 3;vector-effect:non-scaling-stroke}
.cell{fill:none;stroke-width:1px;stroke-opacity:.55;vector-effect:non-scaling-stroke}
.zone{fill-rule:evenodd;fill-opacity:.14}
.ticks{fill:none;stroke:#000;stroke-width:.2;vector-effect:none}
.one:target .cell{stroke-width:5px;stroke-opacity:1}
.labels,.slug{fill:#000;font-family:"Noto Serif","Liberation Serif",Georgia,serif}
.tags{font-weight:650;fill:#fff;font-family:system-ui,-apple-system,"Segoe UI",Roboto,"Noto Sans",Arial,sans-serif}
.paper text{white-space:pre}
.key{list-style:none;display:grid;gap:.1rem;align-content:start;font-size:.925rem;line-height:1.35}
.key li{display:grid;grid-template-columns:.8rem minmax(0,1fr) auto;gap:0 .6rem;padding:.35rem 0;
border-top:1px solid var(--line)}
.key li:first-child{border-top:0}
.key b{font-weight:650}
.key .quiet{grid-column:2/-1;font-size:.85rem}
.dot{width:.8rem;height:.8rem;border-radius:.2rem;align-self:start;margin-top:.28rem}
.order{background:var(--card);border:1px solid var(--line);border-radius:.6rem;margin-bottom:1.25rem;overflow:hidden;
scroll-margin-top:4rem}
.order>div{display:flex;flex-wrap:wrap;gap:.2rem .8rem;align-items:baseline;padding:.8rem 1rem;
border-bottom:1px solid var(--line)}
.order h3 .dot{display:inline-block;margin:0}
.order>div .number{margin-left:auto}
table{border-collapse:collapse;width:100%;table-layout:fixed;font-size:.95rem;line-height:1.4}
caption{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
th{font-weight:500;text-align:left;color:var(--quiet);font-size:.85rem;padding:.5rem .6rem .2rem}
td{vertical-align:top;padding:.6rem;border-top:1px solid var(--line)}
tr:first-child>td{border-top:0}
th:first-child,td:first-child{padding-left:1rem}
th:last-child,td:last-child{padding-right:1rem}
.end{text-align:right}
.expanded th:first-child{width:4rem}.expanded td:nth-child(2){font-weight:650}
.picture{width:7.3rem}.last{width:28%}
.worn{display:block;width:5.5rem;height:4.25rem;background:#fff;border-radius:.25rem;border:1px solid var(--line);
padding:.2rem}
td b{font-weight:650}
.mark{display:inline-block;border:1px solid;border-radius:.3rem;padding:0 .35rem;font-size:.8rem;font-weight:600;
text-decoration:none;white-space:nowrap}
.stop{color:var(--stop)}.warn{color:var(--warn)}.note{color:var(--note)}
.said{list-style:none;display:grid;gap:.9rem}
.said li{background:var(--card);border:1px solid var(--line);border-left:.3rem solid;border-radius:.5rem;
padding:.9rem 1rem;display:grid;grid-template-columns:minmax(0,1fr) auto;gap:.4rem 1.2rem}
.said li>div{color:var(--text)}
.said svg{width:22.5rem;max-width:100%;max-height:22.5rem;align-self:start;background:#fff;border:1px solid var(--line);
border-radius:.375rem}
.said .crop svg,.said .items .crop svg{width:auto;max-height:none}
.spot{fill:none;stroke:#d6006e;stroke-width:2;vector-effect:non-scaling-stroke}
.said img{max-width:min(100%,22.5rem);height:auto;align-self:start;background:#fff;border:1px solid var(--line);
border-radius:.25rem;image-rendering:auto}
.said .several{grid-template-columns:minmax(0,1fr)}
.items{list-style:none;display:grid;margin-top:.4rem;color:var(--text)}
.said .items li{border:0;border-top:1px solid var(--line);border-radius:0;background:none;padding:.6rem 0}
.items b{font-weight:600}.items img{max-width:min(100%,15rem)}.said .items svg{width:15rem}
.said h3{margin:.15rem 0 .2rem}
.said p+p{margin-top:.25rem}
.legend{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,21rem),1fr));gap:1rem 2rem;list-style:none}
.legend li{display:grid;grid-template-columns:3.2rem 1fr;gap:.9rem;align-items:start;font-size:.925rem;line-height:1.4}
.legend svg{width:3.2rem;height:2.4rem;background:#fff;border-radius:.25rem;border:1px solid var(--line)}
.legend .number{justify-self:center}
@media (max-width:60rem){.sheet{grid-template-columns:minmax(0,1fr)}
.key{grid-template-columns:repeat(auto-fill,minmax(14rem,1fr));gap:0 1.5rem}
.key li:first-child{border-top:1px solid var(--line)}.paper{max-height:none}}
@media (max-width:40rem){.bar{position:static}.bar .first{margin-left:0}html,.sheet,.order{scroll-padding-top:0}
table,tbody{display:block}
thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
tr{display:grid;grid-template-columns:4.8rem minmax(0,1fr);gap:.1rem .8rem;padding:.7rem .75rem;
border-top:1px solid var(--line)}
tr:first-child{border-top:0}td,td:first-child,td:last-child{border:0;padding:0}.picture{width:auto;grid-row:span 3}
.worn{width:4.8rem;height:4rem}.end{text-align:left}
.expanded tr{display:block}.expanded td{display:grid;grid-template-columns:8rem minmax(0,1fr)}
.expanded td::before{content:attr(data-head);color:var(--quiet);font-size:.85rem;font-weight:400}
.said li{grid-template-columns:minmax(0,1fr)}.facts dd{font-size:1.15rem}
.facts{grid-template-columns:1fr 1fr}.facts div:last-child:nth-child(odd){grid-column:1/-1}}
"""

_TICKING = """
.ticking{display:grid;grid-template-columns:repeat(auto-fill,minmax(17rem,1fr));gap:1rem;margin-top:1rem}
.ticking fieldset{border:1px solid var(--line);border-radius:.5rem;padding:.5rem .75rem;margin:0;min-width:0}
.ticking legend{float:left;width:100%;font-weight:600;padding:0 .25rem .25rem}.ticking legend+*{clear:both}
.ticking label{display:block;padding:.15rem 0;break-inside:avoid}
.ticking input{width:1.1rem;height:1.1rem;vertical-align:-.15rem;margin:0 .3rem 0 0}
"""

_PRINTED = """
@page{margin:12mm}
@media print{:root{color-scheme:light;--page:#fff;--card:#fff;--text:#000;--quiet:#444;--line:#bbb;--link:#000;
--stop:#000;--warn:#000;--note:#000;--good:#000;--tint:#eee}
body{font-size:10pt;print-color-adjust:exact;-webkit-print-color-adjust:exact}
.bar,.skip,.toggle{display:none}header,main,footer{padding:0;max-width:none}a{text-decoration:none}
#reprint{break-before:page}
.sheet{display:block;break-inside:avoid;padding:0;border:0}.sheet>div:first-child{margin-bottom:3mm}
.many :is(.sheet,.order){content-visibility:visible}
.paper{width:auto;max-width:100%;height:180mm;max-height:180mm;margin:0 auto}
.key{grid-template-columns:repeat(3,1fr);gap:0 6mm;font-size:8pt;margin-top:3mm}.key li{padding:.8mm 0}
.facts{grid-template-columns:repeat(5,1fr)}.facts dd{font-size:13pt}.facts dd+dd{font-size:8.5pt}
.key li,.said li,tr{break-inside:avoid}.order{break-inside:auto}h2,.order>div{break-after:avoid}
table{font-size:9pt}}
"""

_APPROVAL = """
body{padding:clamp(1rem,4vw,3rem) clamp(.75rem,4vw,2rem)}
main{max-width:52rem;margin:0 auto}
h2{margin:0 0 .2rem;font-size:1.25rem}
.lead{font-size:1.1rem;margin-top:.8rem;max-width:42rem}
.print{background:var(--card);border:1px solid var(--line);border-radius:.6rem;margin-top:1.5rem;
padding:clamp(1rem,3vw,1.75rem)}
.stage{background:#fff;color:#1d1f21;border-radius:.4rem;border:1px solid var(--line);padding:1rem;margin:1rem 0;
text-align:center}
.stage svg{max-width:100%;height:auto;display:block;margin:0 auto}
.stage text{font-family:system-ui,-apple-system,"Segoe UI",Roboto,"Noto Sans",Arial,sans-serif;fill:#333}
.edge{fill:none;stroke:#8d9298;stroke-width:1px;vector-effect:non-scaling-stroke;stroke-dasharray:3 3}
.rule{fill:none;stroke:#333;stroke-width:1px;vector-effect:non-scaling-stroke}
.scale{fill:#333}
.apart{margin-top:2.5rem}
.faces{display:flex;flex-wrap:wrap;gap:.75rem 1.25rem;align-items:flex-end;justify-content:center;background:#eeece6;
color:#1d1f21;border:1px solid var(--line);border-radius:.4rem;padding:1rem;margin:1rem 0}
.faces figure{max-width:100%}.faces svg{display:block;max-width:100%;height:auto;margin:0 auto}
.faces figcaption{text-align:center;font-size:.875rem;color:#44484d;margin-top:.3rem}
.cloth{fill:none;stroke:#6d7278;stroke-width:1px;vector-effect:non-scaling-stroke}
.cloth.edge{fill:#fff;stroke-width:1.6px;stroke-dasharray:none}.cloth.hidden{stroke-dasharray:3 3}
.badge circle{fill:#1d1f21}.badge text{fill:#fff;font-weight:700;font-family:system-ui,-apple-system,"Segoe UI",Roboto,
"Noto Sans",Arial,sans-serif}
.prints{margin:0 0 1rem;margin-inline-start:1.4rem}.prints li{padding:.15rem 0}.prints li::marker{font-weight:700}
.roster{border-collapse:collapse;width:100%;font-size:1rem;line-height:1.35}
.roster caption,.hidden{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
.roster th{font-weight:500;text-align:start;color:var(--quiet);font-size:.85rem;padding:.3rem .6rem}
.roster td{border-top:1px solid var(--line);padding:.4rem .6rem;vertical-align:middle}
.roster td:first-child b{font-size:1.15rem}.roster .spelt{font-size:1.15rem}
.roster td:first-child,.roster td:has(.word){min-width:8.6rem}.print:has(.roster){overflow-x:auto}
.roster td:last-child,.roster th:last-child{text-align:end;width:4rem}
.line{display:block}
.word{display:block;max-width:9rem;max-height:2.2rem;background:#fff;border-radius:.2rem;padding:.1rem .25rem;
border:1px solid var(--line)}
.spelt{font-size:1.3rem;font-weight:700;line-height:1.3}.spelt span{display:block}p.spelt{font-size:1.6rem}
input[type=checkbox]{width:1.75rem;height:1.75rem;margin:0;flex:none;accent-color:var(--link)}
.tick{display:inline-flex;padding:.5rem;margin:-.25rem;cursor:pointer}
.sign{margin-top:2rem;border:2px solid var(--text);border-radius:.6rem;padding:clamp(1rem,3vw,1.75rem)}
.sign h2{margin-bottom:.6rem}
.checks{list-style:none;display:grid;gap:.55rem;margin:.8rem 0 1.5rem}
.sign .checks label{display:flex;gap:.8rem;align-items:flex-start;padding:.35rem 0;cursor:pointer;font-weight:400}
.lines{display:grid;grid-template-columns:2fr 1fr;gap:1rem;margin:1rem 0}
.sign label{display:block;font-weight:600}
.sign textarea,.sign input[type=text]{width:100%;font:inherit;color:var(--text);background:var(--page);
border:1px solid var(--quiet);border-radius:.35rem;padding:.55rem .7rem;margin:.25rem 0 0}
.hand{display:none}
.status{min-height:1.5rem;margin:.4rem 0;font-weight:600}
.ways{display:flex;flex-wrap:wrap;gap:.6rem;margin:.25rem 0 .75rem}
.ways :is(button,a){font:inherit;font-weight:600;min-height:2.75rem;padding:.55rem 1.1rem;border-radius:.4rem;
border:2px solid var(--link);background:none;color:var(--link);text-decoration:none;cursor:pointer}
.ways [hidden]{display:none}
#copy{background:var(--link);color:var(--card)}
@media (max-width:36rem){.lines{grid-template-columns:1fr}.roster,.roster tbody{display:block}
.roster thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
.roster tr{display:grid;grid-template-columns:minmax(0,1fr) minmax(0,1fr) 3rem;gap:0 .6rem;
align-items:end;border-top:1px solid var(--line);padding:.5rem 0}
.roster td,.roster td:first-child,.roster td:has(.word){border:0;padding:.1rem 0;width:auto;min-width:0}
.roster td.sizes{grid-column:1/3}
.roster td:last-child{grid-column:3;grid-row:1/span 6;align-self:center;text-align:end;width:auto}
.roster td[data-head]:nth-child(n+3):not(:last-child)::before{content:attr(data-head);display:block;font-size:.8rem;
color:var(--quiet)}}
@media print{body{padding:0}.print{padding:4mm 0;border:0;border-top:1px solid var(--line);border-radius:0;
break-inside:avoid}.print:has(.roster){break-inside:auto}.roster tr,.faces{break-inside:avoid}
.stage{padding:0;border:0;margin:3mm 0}.sign{break-inside:avoid}.faces{background:none}
.ways,.status,#text,[for=text]{display:none!important}
.hand{display:block;border-top:1px solid;margin-top:14mm;width:60%}}
"""

_OFFER = """
.looks{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,20rem),1fr));gap:1rem;margin:1.25rem 0}
.looks .print{margin:0;padding:.75rem}.looks .faces{margin:0 0 .6rem;padding:.6rem;gap:.5rem .9rem}
.prices{border-collapse:collapse;width:100%;background:var(--card);border:1px solid var(--line);border-radius:.6rem;
margin:1.5rem 0}
.prices :is(th,td){padding:.6rem .9rem;vertical-align:top;text-align:left;border-top:1px solid var(--line)}
.prices thead th{color:var(--quiet);font-weight:500;font-size:.875rem;border-top:0}
.prices .end{text-align:right}.prices td span{display:block}.what{font-weight:650}
.prices tfoot th{font-weight:500}.total :is(th,td){font-size:1.2rem;font-weight:700!important}
.terms{margin-bottom:.8rem}main>.small{margin-top:.3rem;max-width:46rem}
@media (max-width:36rem){.prices,.prices :is(tbody,tfoot){display:block}.prices thead{position:absolute;width:1px;
height:1px;overflow:hidden;clip-path:inset(50%)}
.prices tr{display:grid;grid-template-columns:1fr 1fr 1fr;gap:.2rem .6rem;padding:.7rem .9rem;
border-top:1px solid var(--line)}.prices tbody tr:first-child{border-top:0}
.prices :is(th,td){border:0;padding:0}.prices tbody td:first-child{grid-column:1/-1}
.prices tbody td[data-head]{text-align:left}.prices tbody td[data-head]:last-child{text-align:right}
.prices td[data-head]::before{content:attr(data-head);display:block;font-size:.8rem;color:var(--quiet)}
.prices tfoot tr{grid-template-columns:1fr auto}}
@media print{.looks{grid-template-columns:repeat(auto-fit,minmax(70mm,1fr));gap:4mm}.looks .print{padding:2mm}
.looks svg{max-height:62mm}.prices{font-size:10pt}}
"""

_HUES = (
    "".join(
        f".hue{i}{{--hue:{colour}}}.one.hue{i}{{stroke:{colour};fill:{colour}}}.dot.hue{i}{{background:{colour}}}"
        f".hue{i} .chip{{fill:{colour}}}"
        for i, colour in enumerate(HUE_COLOURS)
    )
    + ".one .zone{stroke:none}"
)


def _minify_css(*parts: str) -> str:
    return "".join(line for part in parts for line in part.strip().split("\n"))


PROOF_STYLE = _minify_css(_COLOURS, _BASE, _PROOF, _HUES, _TICKING, _PRINTED)
APPROVAL_STYLE = _minify_css(_COLOURS, _BASE, _PRINTED, _APPROVAL)
OFFER_STYLE = _minify_css(_COLOURS, _BASE, _PRINTED, _APPROVAL, _OFFER)
