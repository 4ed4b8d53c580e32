/* The page's look.  Colours are the pictures', so that their contrast is tested once; nothing is
 * told by colour alone.  The dark theme is for screens only: paper stays white. */
#include <stdio.h>

#include "page/report_parts.h"
#include "picture/palette.h"

static const char rules[] =
    "*{box-sizing:border-box}\n"
    "body{margin:0 auto;max-width:54rem;padding:1rem;font:1rem/1.5 sans-serif;"
    "background:var(--paper);color:var(--ink);overflow-wrap:break-word}\n"
    "h1{font-size:1.7rem;line-height:1.2;margin:.5rem 0}\n"
    "h2{font-size:1.3rem;margin:2.2rem 0 .6rem;border-bottom:2px solid var(--muted)}\n"
    "h3{font-size:1.05rem;margin:1.1rem 0 .2rem}\n"
    "p,ul,ol{margin:.3rem 0 .6rem}\n"
    "a{color:var(--accent)}\n"
    "a:focus-visible{outline:3px solid var(--accent);outline-offset:2px}\n"
    "nav ul{list-style:none;padding:0;display:flex;flex-wrap:wrap;gap:.3rem 1.2rem}\n"
    "nav a{display:inline-block;padding:.2rem 0}\n"
    ".note,caption,figcaption,footer{color:var(--muted)}\n"
    ".answer{border-left:4px solid var(--accent);padding-left:.8rem;margin:.9rem 0}\n"
    ".answer h3{margin-top:0}\n"
    ".caution{border:2px solid var(--warn);padding:.5rem .8rem;margin:.9rem 0}\n"
    ".verdict{font-weight:bold;white-space:nowrap}\n"
    ".passed{color:var(--good)}\n.failed{color:var(--bad);text-decoration:underline}\n"
    "ul.caution{padding-left:2rem}\n"
    "table{border-collapse:collapse;width:100%;margin:.6rem 0 1.2rem}\n"
    "caption{text-align:left;font-weight:bold;padding:.3rem 0}\n"
    "th,td{text-align:left;vertical-align:top;padding:.25rem .8rem .25rem 0;"
    "border-bottom:1px solid var(--muted);font-variant-numeric:tabular-nums}\n"
    "tbody th{font-weight:normal}\n"
    "figure{margin:1rem 0 1.6rem}\n"
    ".picture{display:block;width:100%;height:auto}\n"
    ".phone{display:none}\n"
    "footer{margin-top:2.5rem;border-top:1px solid var(--muted);padding-top:.5rem}\n"
    /* A phone: each row of a table is a block, the heads repeated in it. */
    "@media screen and (max-width:40em){\n"
    ".wide{display:none}.phone{display:block;margin:0 -.8rem}\n"
    "table,caption,tbody,tr,th,td{display:block;width:100%}\n"
    "thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}\n"
    "tr{border-bottom:2px solid var(--muted);padding:.4rem 0}\n"
    "th,td{border:0;padding:.1rem 0}\n"
    "tbody th{font-weight:bold}\n"
    "th,td,p,li{overflow-wrap:anywhere}\n"
    "td{display:flex;gap:.8rem;justify-content:space-between;text-align:right}\n"
    "td::before{content:attr(data-head);color:var(--muted);text-align:left;flex:0 0 40%}\n"
    "td:empty{display:none}\n"
    "}\n"
    "@media print{\n"
    "body{max-width:none;padding:0;font-size:10.5pt}\n"
    "nav{display:none}\n"
    "h2,h3,caption{break-after:avoid}\n"
    "figure,tr,.answer,.caution{break-inside:avoid}\n"
    "thead{display:table-header-group;break-after:avoid}\n"
    "tbody tr:first-child{break-before:avoid}\n"
    "a{color:inherit;text-decoration:none}\n"
    "}\n";

static void put_colours(struct report_page *p, enum picture_theme theme) {
    char line[64];
    html_markup(&p->h, ":root{");
    for (int i = 0; i < PICTURE_ROLES; i++) {
        enum picture_role role = (enum picture_role)i;
        int len = snprintf(line, sizeof line, "--%s:#%06X;", picture_role_name(role),
                           palette_colour(role, theme));
        html_pass(&p->h, line, (size_t)len);
    }
    html_markup(&p->h, "}\n");
    picture_style(theme, html_pass, &p->h);
}

void report_style(struct report_page *p) {
    html_markup(&p->h, "<style>\n:root{color-scheme:light dark}\n");
    put_colours(p, THEME_LIGHT);
    html_markup(&p->h, rules);
    html_markup(&p->h, "@media screen and (prefers-color-scheme:dark){\n");
    put_colours(p, THEME_DARK);
    html_markup(&p->h, "}\n</style>\n");
}
