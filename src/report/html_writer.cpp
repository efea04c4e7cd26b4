#include "report/html_writer.hpp"

#include <fmt/format.h>

#include "report/printable_text.hpp"

namespace ebbtide::report {
namespace {

constexpr std::string_view style = R"css(
:root{--paper:#FBFAF7;--ink:#1C2126;--muted:#5E6872;--rule:#D9DDD8;--positive:#1F6FB2;--negative:#B84E14}
@media (prefers-color-scheme:dark){:root{--paper:#14181B;--ink:#E8EAEC;--muted:#9AA4AD;--rule:#2B3136;--positive:#6FB3EA;--negative:#F0945A}}
@media print{:root{--paper:#FFFFFF;--ink:#1C2126;--muted:#5E6872;--rule:#D9DDD8;--positive:#1F6FB2;--negative:#B84E14}}
@media print{td.name{white-space:normal}}
@page{margin:18mm 16mm}
*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);font:14px/1.45 Inter,system-ui,sans-serif;font-variant-numeric:tabular-nums}
main,header,footer{max-width:720px;margin:0 auto;padding:0 24px;overflow-wrap:anywhere}
header{display:flex;justify-content:space-between;gap:24px;padding-top:24px;color:var(--muted);font-size:12px}
footer{border-top:1px solid var(--rule);margin-top:48px;padding-top:8px;padding-bottom:48px;color:var(--muted);font-size:12px}
h1{font-size:32px;line-height:1.2;font-weight:600;margin:40px 0 8px}
h2{font-size:16px;font-weight:600;margin:40px 0 8px;padding-top:8px;border-top:1px solid var(--rule);break-after:avoid}
p{margin:8px 0;max-width:66ch;white-space:pre-line}
.lead{font-size:16px}.note,.muted{color:var(--muted)}.note{font-size:12px}
dl{display:grid;grid-template-columns:minmax(96px,max-content) 1fr;gap:4px 16px;margin:16px 0}
.pair{display:grid;grid-template-columns:repeat(auto-fit,minmax(280px,1fr));gap:0 32px;margin:16px 0}.pair dl{margin:0;align-content:start}
dt{color:var(--muted);max-width:200px}dd{margin:0;white-space:pre-line}
.wide{overflow-x:auto;margin:16px 0}
table{border-collapse:collapse;width:100%;font-size:12px;line-height:1.35;overflow-wrap:normal}
caption{text-align:left;font-weight:600;font-size:12px;padding-bottom:4px}
th{text-align:left;font-weight:400;color:var(--muted);vertical-align:bottom;border-bottom:1px solid var(--ink)}
td{vertical-align:top;border-bottom:1px solid var(--rule);white-space:pre-line}
th,td{padding:4px 12px 4px 0}th:last-child,td:last-child{padding-right:0}
.number{text-align:right}td.name{white-space:nowrap}td.text{overflow-wrap:anywhere}.strong{font-weight:600}
tr{break-inside:avoid}
.mark svg{width:.8em;height:.8em;vertical-align:-.05em;margin-right:.4em}.mark{white-space:nowrap}
.statement{border-top:2px solid var(--ink);border-bottom:1px solid var(--ink);padding:16px 0;margin:24px 0;break-inside:avoid}
.statement .word{font-size:22px;font-weight:600;margin:0}
.figures{overflow-x:auto;display:flex;flex-wrap:wrap;gap:16px 24px;margin:16px 0}
figure{margin:0;min-width:0;flex:0 1 auto;break-inside:avoid}figure svg{max-width:100%;height:auto;display:block}figure.only svg{min-width:560px}

ul{padding-left:18px;margin:8px 0}li{margin:4px 0;max-width:66ch}
)css";

std::string clause_attribute(const Clause& clause) {
    return clause.empty() ? "" : fmt::format(R"( data-clause="{}")", escaped(clause));
}

std::string_view name_of(Column::Kind kind) {
    return kind == Column::Kind::number ? "number" : kind == Column::Kind::name ? "name" : "text";
}

std::string marked(plan::Conformity conformity, std::string_view word) {
    return fmt::format(R"(<span class="mark">{}{}</span>)", svg_of(mark_of(conformity, 10)), escaped(word));
}

struct HtmlWriter {
    std::string& out;

    void operator()(const Heading& block) const { out += fmt::format("<h2>{}</h2>\n", escaped(block.text)); }
    void operator()(const Paragraph& block) const {
        const char* look = block.look == Paragraph::Look::note ? " class=\"note\"" : "";
        out += fmt::format("<p{}{}>{}</p>\n", look, clause_attribute(block.clause), escaped(block.text));
    }
    void operator()(const Facts& block) const {
        if (!block.beside.empty()) out += "<div class=\"pair\">\n";
        for (const auto* rows : {&block.rows, &block.beside}) {
            if (rows->empty()) continue;
            out += "<dl>\n";
            for (const Facts::Row& row : *rows)
                out += fmt::format("<dt>{}</dt><dd{}>{}</dd>\n", escaped(row.name),
                                   clause_attribute(row.clause), escaped(row.value));
            out += "</dl>\n";
        }
        if (!block.beside.empty()) out += "</div>\n";
    }
    void operator()(const Table& block) const {
        out += fmt::format("<div class=\"wide\"><table{}>", clause_attribute(block.clause));
        if (!block.title.empty()) out += fmt::format("<caption>{}</caption>", escaped(block.title));
        out += "<thead><tr>";
        for (const Column& column : block.columns)
            out += fmt::format("<th scope=\"col\" class=\"{}\">{}</th>", name_of(column.kind),
                               escaped(column.head));
        out += "</tr></thead>\n<tbody>\n";
        for (const auto& row : block.rows) {
            out += "<tr>";
            for (std::size_t i = 0; i < row.size(); ++i) {
                std::string look(name_of(block.columns.at(i).kind));
                if (row[i].muted) look += " muted";
                if (row[i].strong) look += " strong";
                out += fmt::format("<td class=\"{}\">", look);
                if (row[i].mark) {
                    out += marked(*row[i].mark, plan::name_of(*row[i].mark));
                    if (!row[i].text.empty()) out += "<br>";
                }
                out += escaped(bound_together(row[i].text, block.columns[i].kind == Column::Kind::number)) +
                       "</td>";
            }
            out += "</tr>\n";
        }
        out += "</tbody></table></div>\n";
    }
    void operator()(const FigureRow& block) const {
        out += "<div class=\"figures\">";
        for (const Picture& picture : block.pictures)
            out += fmt::format("<figure{}>{}</figure>", block.pictures.size() == 1 ? " class=\"only\"" : "",
                               svg_of(picture));
        out += "</div>\n";
    }
    void operator()(const Bullets& block) const {
        out += fmt::format("<ul{}>\n", clause_attribute(block.clause));
        for (const std::string& item : block.items)
            out += fmt::format("<li>{}</li>\n", escaped(bound_together(item, false)));
        out += "</ul>\n";
    }
    void operator()(const Statement& block) const {
        out += fmt::format("<section class=\"statement\"{}>\n<p class=\"word\">{}</p>\n",
                           clause_attribute(block.clause), marked(block.conformity, block.word));
        out += fmt::format("<p class=\"lead\">{}</p>\n", escaped(block.said_of));
        if (!block.reasons.empty()) (*this)(Bullets{block.reasons, ""});
        out += "</section>\n";
    }
};

}  // namespace

std::string html_of(const Document& document) {
    std::string out =
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
        "<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n"
        "<meta name=\"color-scheme\" content=\"light dark\">\n";
    out += fmt::format("<meta name=\"generator\" content=\"{}\">\n<title>{}, {}</title>\n<style>{}</style>\n",
                       escaped(document.program), escaped(document.id_and_revision), escaped(document.title),
                       style);
    out += fmt::format("</head>\n<body>\n<header><span>{}</span><span{}>{}</span></header>\n<main>\n",
                       escaped(document.laboratory), clause_attribute(document.id_clause),
                       escaped(document.id_and_revision));
    out += fmt::format("<h1{}>{}</h1>\n", clause_attribute(document.title_clause), escaped(document.title));
    for (const Block& block : document.blocks) std::visit(HtmlWriter{out}, block);
    out += fmt::format("</main>\n<footer{}>End of r{}. {}</footer>\n</body>\n</html>\n",
                       clause_attribute(document.id_clause), escaped(document.id_and_revision.substr(1)),
                       escaped(document.page_notice));
    return out;
}

}  // namespace ebbtide::report
