#include <fmt/format.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "cli/clock.hpp"
#include "cli/commands.hpp"
#include "cli/print.hpp"
#include "cli/report_file.hpp"
#include "ledger/migrations.hpp"
#include "paperwork/paperwork.hpp"
#include "record/json.hpp"
#include "work/judge_order.hpp"
#include "work/ledger_add.hpp"
#include "work/ledger_report.hpp"
#include "work/lot_report.hpp"
#include "work/report_input.hpp"
#include "work/verify.hpp"

namespace ebbtide::cli {
namespace {

work::Progress progress_on_terminal() {
    return [](const std::string& name, std::size_t number, std::size_t count) {
        tell(fmt::format("reading recording {} of {}: {}\n", number, count, name));
    };
}

int exit_of(plan::Conformity statement) {
    switch (statement) {
        case plan::Conformity::pass:
            return ok;
        case plan::Conformity::conditional_pass:
        case plan::Conformity::conditional_fail:
            return conditional;
        case plan::Conformity::fail:
            return fails;
        case plan::Conformity::void_:
            return voided;
    }
    return internal;
}

/// Where an order lies, and the terms under which it is to be judged.
struct Asked {
    std::unique_ptr<work::OrderFiles> files;
    plan::Terms terms;
};

/// The order's files: what lies on the disk goes before what the ledger keeps under the same name.
Result<std::unique_ptr<work::OrderFiles>> files_of(const std::string& order, const std::string& ledger) {
    std::error_code none;
    if (ledger.empty()) return work::order_files_at(order);
    if (std::filesystem::exists(order, none)) {
        tell(fmt::format("{}: taken from the disk, not from the ledger\n", order));
        return work::order_files_at(order);
    }
    auto database = ledger::open_ledger(ledger, ledger::Database::Access::read);
    if (!database) return database.error();
    auto kept = work::files_from_ledger(*database, order);
    if (!kept) {
        Error error = kept.error();
        error.remedy = fmt::format("Nothing of that name lies on the disk either. {}", error.remedy);
        return error;
    }
    tell(fmt::format("{}: taken from the files kept in {}\n", order, ledger));
    return work::attached_files(std::move(kept).value());
}

Result<Asked> asked_of(const std::string& order, const work::TermsRequest& request,
                       const std::string& ledger) {
    auto files = files_of(order, ledger);
    if (!files) return files.error();
    Asked asked{std::move(files).value(), {}};
    auto terms = work::terms_from(request, asked.files);
    if (!terms) return terms.error();
    asked.terms = std::move(terms).value();
    return asked;
}

int rejudge(const Asked& asked, bool json) {
    const auto rejudged = work::rejudge(*asked.files, asked.terms, time_of_making(), progress_on_terminal());
    if (!rejudged) return complain(rejudged.error());
    fmt::print("{}", json ? record::canonical_text(work::json_of(*rejudged)) : cli::text_of(*rejudged));
    return exit_of(rejudged->judged.record.judgement.statement);
}

/// A report never takes the place of what it is made of, above all not of an issued one.
std::optional<Error> fault_of_place(const ReportOptions& options, const record::OrderRecord& record) {
    std::error_code none;
    std::vector<std::string> own{options.order};
    for (const record::InputFile& input : record.inputs) own.push_back(options.order + "/" + input.name);
    for (const std::string& file : own)
        if (std::filesystem::equivalent(file, options.output, none))
            return Error{Fault::bad_input, "is what the report is made of", options.output,
                         "Name another file: nothing issued or recorded is overwritten"};
    return {};
}

/// Before anything is worked out that could not be kept. Error: no ledger; other terms; no PDF.
std::optional<Error> fault_of_keeping(const KeepOptions& keep, const work::TermsRequest& terms) {
    if (!keep.keep) return {};
    if (keep.ledger.empty())
        return Error{Fault::bad_input, "names no ledger", "--keep",
                     "Say --ledger PATH, or set EBBTIDE_LEDGER"};
    if (terms.any())
        return Error{Fault::bad_input, "is for what is judged under the order's own terms", "--keep",
                     "Leave out --specification, --levels and --rule: other terms change no statement"};
    const auto opened = ledger::open_ledger(keep.ledger, ledger::Database::Access::write);
    if (!opened) return opened.error();
    return {};
}

/// What was judged, and the report made of it, into the ledger.
Result<Done> keep_in_ledger(const KeepOptions& keep, const std::string& order,
                            std::vector<report::Attachment> files, std::string pdf) {
    auto database = ledger::open_ledger(keep.ledger, ledger::Database::Access::write);
    if (!database) return database.error();
    const auto kept = work::keep_judged(*database, {std::move(files), std::move(pdf)},
                                        {order, keep.who, keep.why}, time_of_writing());
    if (!kept) return kept.error();
    tell(kept->entries == 0 ? fmt::format("{}: nothing to add\n", keep.ledger)
                            : fmt::format("{}: kept, revision {}, head {}\n", keep.ledger, kept->revision,
                                          kept->head.sha256));
    return Done{};
}

/// The ledger first: nothing is issued that it does not hold.
Result<Done> write_report(const work::OrderFiles& files, work::JudgedOrder judged,
                          const ReportOptions& options) {
    const bool pdf = options.output.ends_with(".pdf");
    auto input = work::report_input(files, std::move(judged));
    if (!input) return input.error();
    const auto lots = work::lot_statements(input->record);
    const auto bytes =
        pdf ? report::to_pdf(*input, lots, options.letter ? report::Paper::letter : report::Paper::a4)
            : report::to_html(*input, lots);
    if (!bytes) return bytes.error();
    if (options.keep.keep)
        if (const auto kept =
                keep_in_ledger(options.keep, options.order, std::move(input->attachments), *bytes);
            !kept)
            return kept.error();
    return write_file(options.output, *bytes);
}

Result<Done> keep_judgement(const work::OrderFiles& files, const work::JudgedOrder& judged,
                            const JudgeOptions& options) {
    auto input = work::report_input(files, judged);
    if (!input) return input.error();
    return keep_in_ledger(options.keep, options.order, std::move(input->attachments), "");
}

}  // namespace

int judge(const JudgeOptions& options) {
    if (const auto fault = fault_of_keeping(options.keep, options.terms)) return complain(*fault);
    const auto asked = asked_of(options.order, options.terms, options.keep.ledger);
    if (!asked) return complain(asked.error());
    if (asked->terms.any()) return rejudge(*asked, options.json);
    const auto judged =
        work::judge_order(*asked->files, time_of_making(), progress_on_terminal(), {}, {}, work::full_depth);
    if (!judged) return complain(judged.error());
    if (options.keep.keep)
        if (const auto kept = keep_judgement(*asked->files, *judged, options); !kept)
            return complain(kept.error());
    fmt::print("{}", options.json ? record::canonical_text(work::judgement_json(judged->record))
                                  : cli::text_of(judged->record));
    return exit_of(judged->record.judgement.statement);
}

int report(const ReportOptions& options) {
    if (const auto fault = fault_of_ending(options.output)) return complain(*fault);
    if (const auto fault = fault_of_keeping(options.keep, options.terms)) return complain(*fault);
    if (options.keep.keep && !options.output.ends_with(".pdf"))
        return complain({Fault::bad_input,
                         fmt::format("'{}' is no PDF, and only that can be kept", options.output), "--keep",
                         "Name a file that ends in .pdf"});
    const auto asked = asked_of(options.order, options.terms, options.keep.ledger);
    if (!asked) return complain(asked.error());
    auto judged = work::judge_order(*asked->files, time_of_making(), progress_on_terminal(), asked->terms, {},
                                    work::full_depth);
    if (!judged) return complain(judged.error());
    if (const auto fault = fault_of_place(options, judged->record)) return complain(*fault);
    const plan::Conformity statement = judged->record.judgement.statement;
    const auto written = write_report(*asked->files, std::move(judged).value(), options);
    if (!written) return complain(written.error());
    fmt::print("{}\n{}\n", shape_and_word(statement), options.output);
    return ok;
}

int verify(const std::string& file) {
    const auto bytes = work::read_whole(file, std::uint64_t{2} << 30);
    if (!bytes) return complain(bytes.error());
    auto result = work::verify(*bytes);
    if (!result) {
        Error error = result.error();
        error.where = file;
        return complain(error);
    }
    for (const std::string& difference : result->differences) fmt::print("differs  {}\n", difference);
    if (!result->replaced_not_attached.empty())
        fmt::print("note     {} is kept by its SHA-256 only: what differs from it was not worked out again\n",
                   result->replaced_not_attached);
    for (const std::string& name : result->not_attached)
        fmt::print("missing  {} is not attached: its figures were not worked out again\n", name);
    for (const std::string& name : result->kept_by_runs)
        fmt::print(
            "by runs  {}: too large to keep whole; its figures were worked out again from its kept runs, "
            "where each begins and ends was taken from the record\n",
            name);
    const bool whole = result->differences.empty() && result->not_attached.empty();
    fmt::print("report of order {}, revision {}: {} compared, {}\n", result->order, result->revision,
               result->figures_compared,
               whole                         ? "all agree"
               : result->differences.empty() ? "none differs, but not all could be compared"
                                             : fmt::format("{} differ", result->differences.size()));
    if (whole)
        fmt::print(
            "An unsealed report shows accident, not forgery: its record can be changed with its data.\n");
    return whole ? ok : differs;
}

int demo(const std::string& folder, const std::string& output) {
    if (const auto fault = fault_of_ending(output)) return complain(*fault);
    const auto files = work::folder_files(folder);
    auto judged =
        work::judge_order(*files, time_of_making(), progress_on_terminal(), {}, {}, work::full_depth);
    if (!judged) return complain(judged.error());
    fmt::print("{}\n", cli::text_of(judged->record));
    std::error_code ignored;
    if (const auto parent = std::filesystem::path(output).parent_path(); !parent.empty())
        std::filesystem::create_directories(parent, ignored);
    const auto written = write_report(*files, std::move(judged).value(), {folder, output});
    if (!written) return complain(written.error());
    fmt::print("report: {}\n", output);
    return ok;
}

int methods(const std::string& name) {
    if (name.empty()) {
        for (const paperwork::Shipped& one : paperwork::shipped()) {
            const bool is_method = one.kind == paperwork::Shipped::Kind::method;
            std::string edition, title;
            if (is_method) {
                const auto method = paperwork::parse_method(one.toml, one.id);
                if (!method) return complain(method.error());
                edition = method->edition;
                title = method->title;
            } else {
                const auto specification = paperwork::parse_specification(one.toml, one.id);
                if (!specification) return complain(specification.error());
                edition = specification->edition;
                title = specification->title;
            }
            fmt::print("{} {}\n    {}, edition {}\n", padded(is_method ? "method" : "specification", 14),
                       one.id, title, edition);
        }
        return ok;
    }
    for (const paperwork::Shipped& one : paperwork::shipped()) {
        if (one.id != name) continue;
        fmt::print("{}", one.toml);
        return ok;
    }
    return complain({Fault::bad_input, fmt::format("no method or specification '{}' is shipped", name), "",
                     "'ebbtide methods' lists them"});
}

}  // namespace ebbtide::cli
