#include "work/live_order.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <set>
#include <utility>

#include "ledger/durable_file.hpp"
#include "ledger/migrations.hpp"
#include "ledger/segments.hpp"
#include "paperwork/paperwork.hpp"
#include "recording/container_layout.hpp"
#include "work/live_lines.hpp"
#include "work/live_reference.hpp"
#include "work/measure_order.hpp"
#include "work/order_documents.hpp"
#include "work/order_files.hpp"
#include "work/toml_text.hpp"

namespace ebbtide::work {
namespace {

constexpr const char* recordings_folder = "recordings";
constexpr const char* file_beginning = "live-";

/// "20261125T234501Z"
std::string stamp(Instant instant) {
    constexpr std::int64_t second_ns = 1'000'000'000;
    std::string text = iso_text(Instant{instant.ns / second_ns * second_ns});
    std::erase_if(text, [](char c) { return c == '-' || c == ':'; });
    return text;
}

/// The new text stands under the name at once and whole, or the old one does.
Result<Done> replace_file(const std::string& path, const std::string& text) {
    const std::string part = path + ".part";
    std::error_code none;
    std::filesystem::remove(part, none);
    if (auto written = ledger::write_new_file(part, text); !written) return written;
    std::error_code fault;
    std::filesystem::rename(part, path, fault);
    if (fault)
        return Error{Fault::unreadable, "cannot be written: " + fault.message(), path,
                     "Check that the folder is there, writable and not full"};
    return Done{};
}

Result<std::string> conditions_of(const plan::Order& order, const std::string& named) {
    std::string ids;
    for (const plan::TestConditions& conditions : order.conditions)
        ids += (ids.empty() ? "" : ", ") + conditions.id;
    if (named.empty() && order.conditions.size() == 1) return order.conditions.front().id;
    if (!named.empty() && order.condition(named) != nullptr) return named;
    return Error{Fault::bad_input,
                 named.empty() ? fmt::format("the order has several conditions: {}", ids)
                               : fmt::format("no [[conditions]] have the id '{}'", named),
                 "order.toml", "Say which hold today: --conditions with one of " + ids};
}

}  // namespace

std::string empty_live_text(const std::string& order) {
    return fmt::format(
        "# Runs of this order as they were heard, written by 'ebbtide listen'. Nothing in it is changed "
        "later:\n# corrections follow below. Keys: docs/formats/live.md\nschema = \"ebbtide.live/1\"\n"
        "order = {}\n",
        toml_text(order));
}

Result<std::unique_ptr<LiveOrder>> LiveOrder::open(const LiveOrderRequest& request) {
    std::unique_ptr<LiveOrder> live(new LiveOrder);
    live->folder_ = request.folder;
    live->session_ = stamp(request.started);
    const auto files = folder_files(request.folder);
    const auto order_text = files->text("order.toml");
    if (!order_text) return order_text.error();
    const auto order = paperwork::parse_order(*order_text, "order.toml");
    if (!order) return order.error();
    if (order->live_file.empty())
        return Error{Fault::bad_input, "the order names no file for runs that are heard live",
                     request.folder + "/order.toml", "Write near its top: live = \"live.toml\""};
    live->live_name_ = order->live_file;
    const std::string path = live->folder_ + "/" + live->live_name_;
    std::error_code none;
    if (!std::filesystem::exists(path, none)) {
        if (auto written = replace_file(path, empty_live_text(order->id)); !written) return written.error();
    }
    if (auto read = read_documents(*files, {}, live->record_); !read) return read.error();
    const auto text = files->text(live->live_name_);
    if (!text) return text.error();
    const auto heard = paperwork::parse_live(*text, live->live_name_, *order);
    if (!heard) return heard.error();
    // What was heard is taken in apart, again and again as it grows.
    std::erase_if(live->record_.order.recordings, [&](const plan::PlannedRecording& recording) {
        return std::ranges::any_of(
            *heard, [&](const paperwork::HeardRun& run) { return run.recording.file == recording.file; });
    });
    const auto conditions = conditions_of(live->record_.order, request.conditions);
    if (!conditions) return conditions.error();
    live->conditions_ = *conditions;
    live->places_ = places_of_plan(live->record_.order, live->record_.method, *conditions);
    if (auto taken = live->take_in(*text); !taken) return taken.error();
    std::filesystem::create_directories(live->folder_ + "/" + recordings_folder, none);
    std::set<std::string> known;
    for (const auto& entry : live->file_of_) known.insert(entry.second);
    const auto names = names_in(live->folder_ + "/" + recordings_folder);
    if (!names) return names.error();
    for (const std::string& name : *names) {
        const std::string file = std::string(recordings_folder) + "/" + name;
        const std::string ending(recording::container::file_ending);
        if (!name.starts_with(file_beginning)) continue;
        // Never finished, and never said to be recorded.
        if (name.ends_with(ending + ".part")) std::filesystem::remove(live->folder_ + "/" + file, none);
        if (name.ends_with(ending) && name.find_last_of("0123456789") == name.size() - ending.size() - 1 &&
            !known.contains(file))
            live->strays_.push_back(file);
    }
    // Another session may have begun in the same second.
    while (std::filesystem::exists(live->folder_ + "/" + live->session_file("idle"), none) ||
           std::filesystem::exists(live->folder_ + "/" + live->session_file("all"), none))
        live->session_ += "b";
    if (!request.ledger.empty()) {
        auto opened = ledger::open_ledger(request.ledger, ledger::Database::Access::write);
        if (!opened) return opened.error();
        live->ledger_.emplace(std::move(opened).value());
    }
    return live;
}

MeasureRequest LiveOrder::measure_request() const {
    MeasureRequest request;
    request.rules = rules_asked(record_, {}, {});
    request.bench = record_.bench;
    request.laws.emplace();
    request.monte_carlo = true;
    return request;
}

std::optional<std::size_t> LiveOrder::place_of(const plan::RunKey& key) const {
    const auto found = std::ranges::find_if(places_, [&](const PlanPlace& place) {
        plan::RunKey like = place.key;
        if (place.either_polarity && place.runs == 0) like.polarity = key.polarity;
        return like == key;
    });
    if (found == places_.end()) return {};
    return static_cast<std::size_t>(found - places_.begin());
}

/// Reads the live file and lays its runs on the places anew.
Result<Done> LiveOrder::take_in(std::string text) {
    const auto heard = paperwork::parse_live(text, live_name_, record_.order);
    if (!heard) return heard.error();
    live_text_ = std::move(text);
    for (PlanPlace& place : places_) {
        place.runs = 0;
        place.filled = false;
    }
    file_of_.clear();
    std::optional<std::size_t> last;
    const auto lay = [&](const plan::RunKey& key, bool counts) {
        const auto at = place_of(key);
        if (!at) return;
        places_[*at].key.polarity = key.polarity;
        ++places_[*at].runs;
        // A run that counts is not undone by one that repeats it.
        places_[*at].filled = places_[*at].filled || counts;
        last = at;
    };
    for (const plan::PlannedRecording& listed : record_.order.recordings)
        for (const plan::PlannedRun& run : listed.runs) lay(run.key, run.set_aside.empty());
    std::vector<plan::PlannedRecording> recordings;
    for (const paperwork::HeardRun& run : *heard) {
        recordings.push_back(run.recording);
        file_of_[run.run] = run.recording.file;
        for (const plan::PlannedRun& planned : run.recording.runs)
            lay(planned.key, run.counts && planned.set_aside.empty());
    }
    next_ = open_place(places_, last.value_or(0));
    if (record_.method.reference_run) {
        auto levels = levels_in(folder_, record_, recordings);
        if (!levels) return levels.error();
        levels_ = std::move(levels).value();
    }
    return Done{};
}

/// What cannot be read again is not written.
Result<Done> LiveOrder::append(const std::string& block) {
    const std::string before = live_text_;
    std::string text = before + "\n" + block;
    if (auto taken = take_in(text); !taken) return taken;
    auto written = replace_file(folder_ + "/" + live_name_, text);
    if (!written) static_cast<void>(take_in(before));
    return written;
}

Result<Done> LiveOrder::into_ledger(const std::string& container, Instant now) {
    auto writing = ledger::Writing::begin(*ledger_);
    if (!writing) return writing.error();
    for (const std::string* bytes : {&container, static_cast<const std::string*>(&live_text_)})
        if (auto put = ledger::put_segment(*ledger_, *bytes, now); !put) return put.error();
    return writing->commit();
}

std::string LiveOrder::session_file(const std::string& what) const {
    return fmt::format("{}/{}{}-{}{}", recordings_folder, file_beginning, session_, what,
                       recording::container::file_ending);
}

/// Its keys in the live file.
Result<std::string> LiveOrder::take_to_place(RunRecorded& out, Kept& kept, const RunContainer& container) {
    const PlanPlace& place = places_[*next_];
    kept.place = next_;
    kept.key = place.key;
    if (place.either_polarity && place.runs == 0) kept.key.polarity = kept.run.figures.polarity;
    if (record_.method.reference_run) {
        MeasureRequest request = measure_request();
        const auto level = levels_.find({kept.key.polarity, kept.key.conditions});
        if (level != levels_.end()) request.places = {RunPlace{level->second, false}};
        auto measured = measured_from(container, options_for({}, record_.bench), request);
        if (!measured) return measured.error();
        out.run = kept.run = std::move(measured).value();
    }
    judge::JudgedRun judged = judged_at(kept.run, kept.key, record_);
    out.run.flags = std::move(judged.flags);
    out.counts = judged.counts;
    out.fails = judged.fails;
    out.place = kept.key;
    std::string lines = place_lines(kept.key);
    if (place.runs == 0) return lines;
    out.retest_cause =
        !retest_cause_.empty() ? retest_cause_ : "The run before it at this place does not count";
    return lines + fmt::format("retest_cause = {}\n", toml_text(out.retest_cause));
}

Result<std::optional<RunRecorded>> LiveOrder::keep(const MeasuredRun& run, const RunContainer& container,
                                                   const std::string& source, Instant now) {
    if (file_of_.contains(run.run_id)) return std::optional<RunRecorded>();
    RunRecorded out;
    out.run = run;
    out.recording = container.sha256;
    Kept kept;
    kept.run = run;
    std::string lines;
    if (const auto mounted = next_reference()) {
        if (auto taken = take_reference(out, *mounted, container, record_, conditions_); !taken)
            return taken.error();
        lines =
            fmt::format("reference = \"{}\"\nconditions = {}\npolarity = \"{}\"\n", plan::name_of(*mounted),
                        toml_text(conditions_), plan::sign_of(out.run.figures.polarity));
    } else if (next_) {
        auto at_place = take_to_place(out, kept, container);
        if (!at_place) return at_place.error();
        lines = std::move(at_place).value();
    } else {
        out.counts = false;
        out.run.flags.emplace_back(plan::FlagCode::run_unplanned, "The plan has no open place.");
    }
    kept.counts = out.counts;
    std::error_code none;
    do out.file = session_file(std::to_string(++number_));
    while (std::filesystem::exists(folder_ + "/" + out.file, none));
    const std::string path = folder_ + "/" + out.file;
    if (auto written = ledger::write_new_file(path + ".part", container.bytes); !written)
        return written.error();
    if (auto named = ledger::give_name(path + ".part", path); !named) return named.error();
    const auto next = next_;
    auto appended =
        append(fmt::format("[[recording]]\nfile = {}\nrun = \"{}\"\nheard = {}\nsource = {}\n{}{}",
                           toml_text(out.file), run.run_id, iso_text(now), toml_text(source), lines,
                           out.counts || out.reference ? "" : "counts = false\n"));
    if (!appended) return appended.error();
    if (out.reference) {
        references_.pop_front();
        next_ = next;
    } else {
        retest_cause_.clear();
    }
    kept.file = out.file;
    last_ = std::move(kept);
    if (ledger_) {
        if (auto put = into_ledger(container.bytes, now); !put) return put.error();
        out.in_ledger = true;
    }
    return std::optional(std::move(out));
}

}  // namespace ebbtide::work
