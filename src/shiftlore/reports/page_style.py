"""How the owner's page looks: one style sheet for screen, phone and print, in ink that prints black and white."""

PAPERS = {"a4": "A4", "letter": "Letter"}

BASE = """
*{box-sizing:border-box}
html{font-size:16px;-webkit-text-size-adjust:100%}
body{margin:0;background:#fff;color:#1a1a1a;font:1rem/1.35 "Liberation Sans",Arial,Helvetica,"DejaVu Sans",sans-serif}
main,header,footer{max-width:62rem;margin:0 auto;padding:0 1.2rem}
header{padding-top:1rem}
h1{font-size:1.7rem;line-height:1.15;margin:0 0 .2rem}
h2{font-size:1.08rem;margin:0 0 .3rem}
h3{font-size:1.05rem;line-height:1.2;margin:0}
p,dl,ul{margin:0}
.top{display:flex;justify-content:space-between;gap:1.5rem;align-items:flex-start}
.top{border-bottom:3px solid #1a1a1a;padding-bottom:.6rem}
.shop{text-align:right;max-width:24rem}
.shop img{max-height:3.4rem;max-width:14rem;display:block;margin:0 0 .25rem auto}
.shop strong{font-size:1.05rem}
.shop span{display:block}
.facts div{display:inline-block;margin:0 1.4rem .1rem 0}
.facts dt,.facts dd{display:inline;margin:0}
.facts dt{font-weight:bold;margin-right:.4rem}
.blank{display:inline-block;min-width:11rem;border-bottom:1px solid #1a1a1a}
.advice{border:2.5px solid #1a1a1a;border-radius:.4rem;padding:.55rem .8rem;margin:.7rem 0}
.advice strong{font-size:1.12rem}
.pictures,.notes{display:grid;grid-template-columns:1fr 1fr;gap:1.4rem;margin:.6rem 0}
.pictures svg{display:block;width:100%;height:auto}
figure{margin:0}
figcaption{font-size:.82rem;color:#333}
.option{display:grid;grid-template-columns:2.1rem 1fr 11.2rem 7.2rem;gap:.1rem .8rem}
.option{border-top:1.5px solid #1a1a1a;padding:.45rem 0;break-inside:avoid}
.letter{font-size:1.5rem;font-weight:bold;line-height:1;width:2rem;height:2rem}
.letter{align-self:start;display:flex;align-items:center;justify-content:center;border:2.5px solid #1a1a1a;border-radius:50%}
.advised .letter{background:#1a1a1a;color:#fff}
.tag{display:inline-block;font-size:.8rem;font-weight:bold;white-space:nowrap}
.tag{border:1.5px solid #1a1a1a;border-radius:.25rem;padding:0 .35rem}
.advised .tag.ours{background:#1a1a1a;color:#fff}
.small{font-size:.9rem;color:#2b2b2b}
.small b{color:#1a1a1a}
.price,.chance{text-align:right}
.big{display:block;font-size:1.95rem;font-weight:bold;line-height:1.1;white-space:nowrap}
.big small{font-size:.95rem}
.range,.end{display:block;font-size:.86rem;color:#2b2b2b}
.meter{display:block;width:100%;height:.6rem;margin:.2rem 0}
.notes section{border-top:1.5px solid #1a1a1a;padding-top:.35rem}
.danger{font-weight:bold}
.sign{display:grid;grid-template-columns:auto 1fr 1fr;gap:.4rem 1.4rem;align-items:end;margin:.7rem 0 .3rem}
.sign div:first-child{white-space:nowrap}
.sign .box{display:inline-block;width:1.1em;height:1.1em;border:1.5px solid #1a1a1a;vertical-align:-.15em;margin:0 .25em 0 .7em}
.line{border-bottom:1px solid #1a1a1a;min-height:2.1rem;display:block}
.print{font-size:.8rem;color:#333;margin-bottom:1rem}
@media (max-width:46rem){
.top,.sign{display:block}
.shop{text-align:left;margin-top:.6rem}
.shop img{margin-left:0}
.pictures,.notes{grid-template-columns:1fr}
.option{grid-template-columns:2.4rem 1fr 1fr}
.option .what{grid-column:2 / 4}
.option .price{grid-column:1 / 3;text-align:left;padding-left:2.8rem}
.sign div,.sign div:first-child{margin-bottom:.6rem;white-space:normal}
}
"""

PRINT = """
@page{size:%(paper)s;margin:8mm 11mm}
@media print{
html{font-size:%(points).1fpt}
body{line-height:1.25}
main,header,footer{max-width:none;padding:0}
.pictures svg{max-height:44mm}
.advice{padding:.35rem .7rem;margin:.5rem 0}
.pictures,.notes{margin:.4rem 0}
.option{padding:.3rem 0}
.print{margin:0}
.meter,.letter,.tag,svg{-webkit-print-color-adjust:exact;print-color-adjust:exact}
}
"""

def write_style(paper: str, points: float) -> str:
    """Write the style sheet for a paper.

    Args:
        paper: `a4` or `letter`.
        points: size of the print.
    """
    return BASE + PRINT % {"paper": PAPERS[paper], "points": points}
