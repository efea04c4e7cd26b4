#include "work/issue.hpp"

#include <fmt/format.h>

#include <filesystem>

#include "basis/sha256.hpp"
#include "ledger/durable_file.hpp"
#include "ledger/migrations.hpp"
#include "paperwork/paperwork.hpp"
#include "record/json.hpp"
#include "work/intake.hpp"
#include "work/judge_order.hpp"
#include "work/ledger_add.hpp"
#include "work/order_at_hand.hpp"
#include "work/order_edit.hpp"
#include "work/report_input.hpp"
#include "work/toml_text.hpp"

namespace ebbtide::work {
namespace {

/// Once the request itself is right, what is wrong lies in the order's files or in the ledger.
Error as_it_stands(Error error) {
    if (error.code == Fault::bad_input) error.code = Fault::inconsistent;
    return error;
}

/// The order's file with day and person in it, checked: nothing else may have changed.
Result<std::string> text_as_issued(const std::string& text, const IssueRequest& request) {
    auto order = paperwork::parse_order(text, "order.toml");
    if (!order) return as_it_stands(order.error());
    if (order->issued)
        return Error{Fault::inconsistent,
                     fmt::format("the report was issued on {}", iso_text(*order->issued)), "order.toml",
                     "A correction is a new revision: count it up and say what changed"};
    TableEdit dates{"[dates]", 0, {{"issued", iso_text(request.issued)}}};
    if (request.tested_from) dates.keys.emplace_back("tested_from", iso_text(*request.tested_from));
    if (request.tested_to) dates.keys.emplace_back("tested_to", iso_text(*request.tested_to));
    TableEdit people{"[people]", 0, {{"authorised_by", toml_text(request.who)}}};
    if (!request.role.empty()) people.keys.emplace_back("authorised_role", toml_text(request.role));
    auto edited = with_keys(text, {dates, people});
    if (!edited) return as_it_stands(edited.error());
    const auto read = paperwork::parse_order(*edited, "order.toml");
    if (!read) return read.error();
    order->issued = request.issued;
    if (request.tested_from) order->tested_from = *request.tested_from;
    if (request.tested_to) order->tested_to = *request.tested_to;
    order->authorised_by = request.who;
    if (!request.role.empty()) order->authorised_role = request.role;
    if (record::json_of(*read) != record::json_of(*order))
        return Error{Fault::inconsistent, "the order is written in a way that cannot be edited", "order.toml",
                     "Enter 'issued' and 'authorised_by' by hand, then run 'ebbtide report'"};
    return edited;
}

std::string file_name(const plan::Order& order) {
    std::string name;
    for (const char c : order.id.substr(0, 100)) name += is_key(std::string(1, c)) || c == '.' ? c : '-';
    return fmt::format("{}/{}-{}.pdf", issued_folder, name, order.revision);
}

/// `before` and `after`: texts of order.toml.
Result<Issued> issue_as(const IssueRequest& request, const std::string& before, const std::string& after) {
    namespace fs = std::filesystem;
    auto at_hand = files_at_hand(request.folder);
    if (!at_hand) return at_hand.error();
    const auto files = with_file(std::move(at_hand).value(), "order.toml", after);
    auto judged = judge_order(*files, request.now, {}, {}, {}, full_depth);
    if (!judged) return judged.error();
    if (judged->record.recordings.empty())
        return Error{Fault::bad_input, "no run of the order is recorded", "order.toml",
                     "Record its runs first"};
    Issued out;
    out.order = judged->record.order.id;
    out.revision = judged->record.order.revision;
    out.statement = judged->record.judgement.statement;
    out.file = file_name(judged->record.order);
    const std::string path = request.folder + "/" + out.file, part = path + ".part";
    if (auto is_new = ledger::must_be_new(path); !is_new) return is_new.error();

    auto input = report_input(*files, std::move(judged).value());
    if (!input) return input.error();
    const auto pdf = report::to_pdf(*input, request.paper);
    if (!pdf) return pdf.error();
    out.sha256 = sha256_hex(*pdf);
    out.bytes = pdf->size();
    std::error_code none;
    fs::create_directory(request.folder + "/" + issued_folder, none);
    fs::remove(part, none);
    if (auto written = ledger::write_new_file(part, *pdf); !written) return written.error();
    const auto undone = [&](const Error& error) {
        fs::remove(part, none);
        return error;
    };
    if (!request.ledger.empty()) {
        auto database = ledger::open_ledger(request.ledger, ledger::Database::Access::write);
        if (!database) return undone(database.error());
        const auto kept = keep_judged(*database, {std::move(input->attachments), *pdf},
                                      {request.folder, request.who, "issued"}, request.now);
        if (!kept) return undone(kept.error());
        out.in_ledger = true;
    }
    if (auto replaced = replace_order(request.folder, before, after, request.now); !replaced)
        return undone(replaced.error());
    if (auto named = ledger::give_name(part, path); !named) return named.error();
    return out;
}

}  // namespace

Result<Issued> issue(const IssueRequest& request) {
    const auto before = folder_files(request.folder)->text("order.toml");
    if (!before) return before.error();
    const auto after = text_as_issued(*before, request);
    if (!after) return after.error();
    auto issued = issue_as(request, *before, *after);
    if (!issued) return as_it_stands(issued.error());
    return issued;
}

}  // namespace ebbtide::work
