"""The style sheet of the report, beside that of its figures."""

from __future__ import annotations

from typing import Final

REPORT_STYLE: Final = """
*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);font:16px/1.5 system-ui,sans-serif;
 overflow-wrap:break-word;-webkit-text-size-adjust:100%}
header,main{max-width:920px;margin:0 auto;padding:0 20px}
header{padding-top:28px;padding-bottom:6px;border-bottom:3px double var(--ph)}
header p{margin:0;color:var(--soft)} h1{margin:0;font-size:30px;line-height:1.25}
h2{font-size:18px;margin:34px 0 8px;padding-left:10px;border-left:5px solid var(--ph)}
p{margin:8px 0} ul{margin:8px 0;padding-left:22px} li{margin:4px 0}
figure{margin:22px 0} figure svg{display:block;width:100%;height:auto} .narrow{display:none}
figcaption{color:var(--soft);font-size:13.5px;line-height:1.7} figcaption p{margin:2px 0}
.key{display:inline-block;margin-right:16px}
.key i{display:inline-block;width:20px;height:10px;margin-right:6px;vertical-align:baseline}
.k-ph{background:linear-gradient(transparent 38%,var(--ph) 38%,var(--ph) 62%,transparent 62%),
 color-mix(in srgb,var(--spread) 45%,transparent)}
.k-dark{background:var(--dark);outline:1px solid var(--rule)}
.k-band{background:var(--band);outline:1px solid var(--rule)}
.key i.k-corrected{height:0;vertical-align:middle;border-top:2px dotted var(--corrected)}
.key i.k-told{width:12px;height:8px;vertical-align:middle;border:solid var(--told);border-width:0 2px;
 background:linear-gradient(transparent 38%,var(--told) 38%,var(--told) 62%,transparent 62%)}
.k-flag{background:var(--flag)} .key i.k-act{width:9px;height:9px;background:var(--act);transform:rotate(45deg)}
.k-high{background:var(--high)} .k-medium{background:var(--medium)} .k-low{outline:1.5px solid var(--low)}
.key i.k-dot,.key i.k-told-low{width:10px;height:10px;border-radius:50%} .k-dot{background:var(--ph)}
.key i.k-odd{width:10px;height:10px;background:linear-gradient(45deg,transparent 42%,var(--flag) 42%,
 var(--flag) 58%,transparent 58%),
 linear-gradient(-45deg,transparent 42%,var(--flag) 42%,var(--flag) 58%,transparent 58%)}
.k-told-low{border:2px solid var(--told)} .key i.k-fit{height:0;vertical-align:middle;border-top:2px solid var(--soft)}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums;font-size:14.5px}
th,td{padding:5px 6px;text-align:left;vertical-align:top;border-bottom:1px solid var(--rule)}
thead th{color:var(--soft);font-weight:500;border-bottom-width:2px} tbody th{font-weight:600;white-space:nowrap}
.figures td,.figures thead th:not(:first-child){text-align:right} .figures td{white-space:nowrap}
td small{color:var(--soft)}
.figures .name{display:inline-block;min-width:5em;font-weight:inherit;white-space:normal;overflow-wrap:anywhere}
.alarms tbody th{white-space:normal;min-width:8em} .alarms td:nth-child(3),.alarms td:nth-child(4){min-width:7.6em}
.alarms td:last-child{min-width:14em}
.words:not(.alarms) td:nth-child(3) span,.alarms td:last-child span{overflow-wrap:anywhere}
@media (min-width:761px){section{overflow-x:auto} .words:not(.alarms) td:nth-child(2){min-width:9em}}
@media (max-width:760px){
 .wide{display:none} .narrow{display:block} header,main{padding:0 14px} header{padding-top:18px}
 h1{font-size:25px} thead{position:absolute;clip-path:inset(50%);height:1px;width:1px;overflow:hidden}
 table,tbody,tr,th,td{display:block} tr{padding:8px 0;border-bottom:1px solid var(--rule)}
 th,td{border:0;padding:1px 0} .figures tr{display:grid;grid-template-columns:repeat(2,minmax(0,1fr));column-gap:16px}
 .figures th{grid-column:1/-1} .nights tr{display:block}
 td,.figures td{display:flex;justify-content:space-between;gap:8px;text-align:right;white-space:normal}
 .alarms tbody td:nth-child(n){min-width:0} .words td{text-align:left;justify-content:flex-start}
 td::before{content:attr(data-name);color:var(--soft);text-align:left;flex:none} .words td::before{width:118px}
 .words td:has(span:empty){display:none} td span{min-width:0;overflow-wrap:anywhere}
}
@media print{body{font-size:11pt} section,figure{break-inside:avoid} .narrow{display:none} .wide{display:block}}
""".strip()
