// The report: preview, issue, what was issued; and the order under other terms.

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <filesystem>

#include "paperwork/paperwork.hpp"
#include "server/fields.hpp"
#include "server/handlers.hpp"
#include "server/issued_reports.hpp"
#include "work/issue.hpp"
#include "work/order_at_hand.hpp"
#include "work/rejudge.hpp"
#include "work/report_input.hpp"

namespace ebbtide::server {
namespace {

using nlohmann::json;

std::optional<report::Paper> paper_named(const std::string& name) {
    if (name == "a4") return report::Paper::a4;
    if (name == "letter") return report::Paper::letter;
    return {};
}

Reply no_such_paper() {
    return refused("there is no such paper", "paper", "Ask for a4 or letter");
}

/// Names come from our own files, but a quotation mark would end the header's.
std::string in_header(const std::string& name) {
    std::string out;
    for (const char c : name)
        out +=
            (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '.'
                ? c
                : '_';
    return out;
}

/// The revision that the name of an issued report ends in.
json revision_in(const std::string& name) {
    const std::size_t dash = name.rfind('-');
    int revision = 0;
    if (dash == std::string::npos) return {};
    const char *first = name.data() + dash + 1, *last = name.data() + name.size() - 4;
    const auto [end, fault] = std::from_chars(first, last, revision);
    return fault == std::errc() && end == last ? json(revision) : json();
}

}  // namespace

std::vector<std::string> issued_names(const std::string& order_folder) {
    const std::string folder = order_folder + "/" + work::issued_folder;
    std::error_code none;
    if (!std::filesystem::is_directory(folder, none)) return {};
    auto names = work::names_in(folder);
    if (!names) return {};
    std::erase_if(*names, [](const std::string& name) { return !name.ends_with(".pdf"); });
    return std::move(names).value();
}

json issued_json(const std::string& order_folder) {
    json out = json::array();
    for (const std::string& name : issued_names(order_folder)) {
        std::error_code fault;
        const auto bytes =
            std::filesystem::file_size(order_folder + "/" + work::issued_folder + "/" + name, fault);
        out.push_back({{"name", name}, {"bytes", fault ? 0 : bytes}, {"revision", revision_in(name)}});
    }
    return out;
}

Reply preview_report(const Call& call) {
    const std::string form = call.parameter("form", "html");
    if (form != "html" && form != "pdf")
        return refused("there is no such form", "form", "Ask for html or pdf");
    const auto paper = paper_named(call.parameter("paper", "a4"));
    if (!paper) return no_such_paper();
    const auto order = judged_named(call);
    if (!order) return order.instead;
    if (order->record().recordings.empty())
        return conflict({Fault::bad_input, "there is nothing to report yet", "report", "Record runs first"});
    const auto input = work::report_input(*order->kept->files, order->kept->order);
    if (!input) return conflict(input.error());
    std::unique_lock drawing(call.held.drawing, std::defer_lock);
    if (form == "pdf") drawing.lock();
    const auto bytes = form == "pdf" ? report::to_pdf(*input, *paper) : report::to_html(*input);
    if (!bytes) return conflict(bytes.error());
    if (form == "pdf")
        return {200,
                "application/pdf",
                *bytes,
                {{"Content-Disposition",
                  fmt::format("inline; filename=\"{}-preview.pdf\"", in_header(order->record().order.id))}}};
    // The report brings its style in its head; it fetches nothing and runs nothing.
    return {200,
            "text/html; charset=utf-8",
            *bytes,
            {{"Content-Security-Policy",
              "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action "
              "'none'; frame-ancestors 'self'; sandbox"}}};
}

Reply issue_report(const Call& call) {
    Fields fields(call.request);
    work::IssueRequest request;
    request.who = fields.text("who");
    request.role = fields.text_or("role");
    request.issued = fields.date("issued").value_or(date_of(call.now()));
    request.tested_from = fields.date("tested_from");
    request.tested_to = fields.date("tested_to");
    const auto paper = paper_named(fields.text_or("paper", "a4"));
    if (const auto problem = fields.problem()) return refused(*problem);
    if (!paper) return no_such_paper();
    request.paper = *paper;
    const auto at = order_named(call);
    if (!at) return at.instead;
    if (call.bench.works_on && call.bench.works_on() == at->key)
        return conflict({Fault::bad_input, "the order is being worked on at the bench", at->key,
                         "Issue it when the session has ended"});
    request.folder = at->folder;
    request.ledger = call.desk.ledger;
    request.now = call.now();
    const std::lock_guard drawing(call.held.drawing);
    const auto issued = work::issue(request);
    if (!issued) return refused(issued.error());
    return json_reply({{"schema", "ebbtide.page-issued/1"},
                       {"key", at->key},
                       {"order", issued->order},
                       {"revision", issued->revision},
                       {"file", issued->file},
                       {"name", std::filesystem::path(issued->file).filename().string()},
                       {"sha256", issued->sha256},
                       {"bytes", issued->bytes},
                       {"statement", plan::name_of(issued->statement)},
                       {"in_ledger", issued->in_ledger}},
                      201);
}

Reply issued_report(const Call& call) {
    const auto at = order_named(call);
    if (!at) return at.instead;
    for (const std::string& name : issued_names(at->folder)) {
        if (name != call.names.at(1)) continue;
        auto bytes =
            work::read_whole(at->folder + "/" + work::issued_folder + "/" + name, work::largest_report);
        if (!bytes) return conflict(bytes.error());
        return {200,
                "application/pdf",
                std::move(bytes).value(),
                {{"Content-Disposition", fmt::format("inline; filename=\"{}\"", in_header(name))}}};
    }
    return not_found(
        {Fault::bad_input, "no such report was issued", "name", "The order's answer lists them"});
}

Reply rejudge_order(const Call& call) {
    Fields fields(call.request);
    const work::TermsRequest request{fields.text_or("specification"), fields.text_or("levels"),
                                     fields.text_or("rule")};
    if (const auto problem = fields.problem()) return refused(*problem);
    if (!request.any())
        return refused("no other terms are named", "levels", "Send 'specification', 'levels' or 'rule'");
    const auto at = order_named(call);
    if (!at) return at.instead;
    if (!request.specification.empty()) {
        // A path is no name: only shipped documents, and files of the order's own folder.
        const auto own = work::names_in(at->folder);
        const bool shipped = std::ranges::any_of(paperwork::shipped(), [&](const paperwork::Shipped& one) {
            return one.kind == paperwork::Shipped::Kind::specification && one.id == request.specification;
        });
        if (!shipped && (!own || std::ranges::find(*own, request.specification) == own->end()))
            return refused("there is no such specification", "specification",
                           "Name a shipped one, or a file of the order's folder");
    }
    auto at_hand = work::files_at_hand(at->folder);
    if (!at_hand) return conflict(at_hand.error());
    auto files = std::move(at_hand).value();
    const auto terms = work::terms_from(request, files);
    if (!terms) return refused(terms.error());
    const auto rejudged = work::rejudge(*files, *terms, call.now());
    if (!rejudged) return conflict(rejudged.error());
    return json_reply(work::json_of(*rejudged));
}

}  // namespace ebbtide::server
