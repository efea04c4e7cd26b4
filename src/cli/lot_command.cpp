#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "cli/clock.hpp"
#include "cli/lot_options.hpp"
#include "cli/print.hpp"
#include "cli/print_lot.hpp"
#include "cli/report_file.hpp"
#include "ledger/migrations.hpp"
#include "record/json.hpp"
#include "work/compare_sources.hpp"
#include "work/judge_order.hpp"
#include "work/lot_history.hpp"
#include "work/lot_order.hpp"
#include "work/lot_report.hpp"

namespace ebbtide::cli {
namespace {

constexpr std::uint64_t most_bytes_of_times = std::uint64_t{64} << 20;

/// Writes the document as a page or as a PDF with the JSON in it.
Result<Done> keep(const report::Document& document, const std::string& output, const std::string& name,
                  const std::string& json) {
    const auto bytes = work::written(document, output, name, json);
    if (!bytes) return bytes.error();
    return write_file(output, *bytes);
}

/// The history that the options name, if any. `orders` are those that the lot is of; empty: bare times.
Result<std::optional<work::LotPrior>> history_asked_for(const LotHistoryOptions& options,
                                                        const std::vector<record::OrderRecord>& orders) {
    const int named = !options.times.empty() + !options.ledger.empty() + !options.stated.empty();
    if (named == 0) return std::optional<work::LotPrior>();
    if (named > 1)
        return Error{Fault::bad_input, "there is more than one history",
                     "--history, --history-ledger, --stated-history", "Name one of them"};
    const auto kept = [](Result<work::LotPrior> prior) -> Result<std::optional<work::LotPrior>> {
        if (!prior) return prior.error();
        return std::optional(std::move(prior).value());
    };
    if (!options.stated.empty())
        return kept(work::stated_history(options.stated[0], options.stated[1], options.stated[2]));
    if (!options.times.empty()) {
        const auto text = work::read_whole(options.times, most_bytes_of_times);
        if (!text) return text.error();
        const auto times = work::read_lot_times(*text, options.times, work::LabelColumns::read);
        if (!times) return times.error();
        return kept(work::history_of_times(*times, options.times));
    }
    if (orders.empty() && (options.material.empty() || options.level.empty()))
        return Error{Fault::bad_input, "bare times do not say of what material and to what level they are",
                     "--history-ledger", "Give --material and --level"};
    const auto level = work::compared_level(orders, options.level);
    if (!level) return level.error();
    work::LedgerHistory asked = work::history_before(orders, *level);
    if (!options.material.empty()) asked.material = options.material;
    auto ledger = ledger::open_ledger(options.ledger, ledger::Database::Access::read);
    if (!ledger) return ledger.error();
    return kept(work::history_in_ledger(*ledger, asked));
}

int lot_of_times(const LotOptions& options, const LotHistoryOptions& earlier, work::LotRequest request) {
    const auto text = work::read_whole(options.times, most_bytes_of_times);
    if (!text) return complain(text.error());
    const auto times = work::read_lot_times(*text, options.times);
    if (!times) return complain(times.error());
    auto history = history_asked_for(earlier, {});
    if (!history) return complain(history.error());
    request.history = std::move(history).value();
    const auto lot = work::describe_lot(*times, request);
    if (!lot) return complain(lot.error());
    nlohmann::json document = work::json_of(*lot);
    document["schema"] = "ebbtide.lot/1";
    const std::string json = record::canonical_text(document);
    if (!options.output.empty()) {
        const work::OrderLot alone{{}, "", "", options.times, "", {}, *lot};
        const auto kept =
            keep(work::compose(std::span(&alone, 1), time_of_making()), options.output, "lot.json", json);
        if (!kept) return complain(kept.error());
    }
    fmt::print("{}", options.json ? json : text_of(*lot));
    return ok;
}

int lots_of_orders(const LotOptions& options, const LotHistoryOptions& earlier, work::LotRequest request) {
    std::vector<record::OrderRecord> records;
    for (const std::string& order : options.orders) {
        const auto files = work::order_files_at(order);
        if (!files) return complain(files.error());
        auto judged = work::judge_order(**files, time_of_making());
        if (!judged) return complain(judged.error());
        records.push_back(std::move(judged->record));
    }
    auto history = history_asked_for(earlier, records);
    if (!history) return complain(history.error());
    request.history = std::move(history).value();
    const auto lots = work::lots_of(records, request);
    if (!lots) return complain(lots.error());
    const std::string json = record::canonical_text(work::lots_json(*lots));
    if (!options.output.empty()) {
        const auto kept = keep(work::compose(*lots, time_of_making()), options.output, "lot.json", json);
        if (!kept) return complain(kept.error());
    }
    if (options.json) {
        fmt::print("{}", json);
        return ok;
    }
    for (const work::OrderLot& one : *lots)
        fmt::print("{}\n{}\n{}\n\n{}", one.group, wrapped(one.sentence, screen, 2),
                   wrapped("sampling: " + (one.sampling_plan.empty() ? "no plan stated" : one.sampling_plan),
                           screen, 2),
                   text_of(one.lot));
    return ok;
}

}  // namespace

int lot(const LotOptions& options, const LotHistoryOptions& history) {
    if (!options.output.empty())
        if (const auto fault = fault_of_ending(options.output)) return complain(*fault);
    if (options.times.empty() == options.orders.empty())
        return complain({Fault::bad_input,
                         options.times.empty() ? "no order and no file of times is named"
                                               : "orders and a file of times are both named",
                         "lot", "Name orders, or a file after --times"});
    if (!options.orders.empty() && options.limit_s)
        return complain({Fault::bad_input, "an order's limits are those of its specification", "--limit",
                         "Leave it away, or give bare times after --times"});
    work::LotRequest request;
    request.limit_s = options.limit_s;
    request.claim = {options.share, options.confidence};
    request.alike_within = options.alike_within;
    return options.times.empty() ? lots_of_orders(options, history, request)
                                 : lot_of_times(options, history, request);
}

int plan(const PlanOptions& options) {
    if (!options.output.empty())
        if (const auto fault = fault_of_ending(options.output)) return complain(*fault);
    work::SamplingRequest request;
    request.claim = {options.share, options.confidence};
    request.beyond = options.beyond;
    request.power = options.power;
    request.risks = {options.good, options.accept, options.poor, options.wrong};
    request.specimens = options.specimens;
    const auto sampling = work::plan_sampling(request);
    if (!sampling) return complain(sampling.error());
    const std::string json = record::canonical_text(work::json_of(*sampling));
    if (!options.output.empty()) {
        const auto kept = keep(work::compose(*sampling, time_of_making()), options.output, "plan.json", json);
        if (!kept) return complain(kept.error());
    }
    fmt::print("{}", options.json ? json : text_of(*sampling));
    return ok;
}

}  // namespace ebbtide::cli
