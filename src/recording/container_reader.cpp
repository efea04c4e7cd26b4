#include "recording/container_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

#include "recording/stored_channels.hpp"

namespace ebbtide::recording {
namespace {

using container::bytes_text;
using container::grouped;
using container::RecordType;
using trace::Notice;
using trace::Quantity;
using Kind = Notice::Kind;
using Place = container::RecordOrder::Place;

constexpr std::size_t notices_a_block = 256;
constexpr double before_all = std::numeric_limits<double>::lowest();

bool is(const container::RecordScan::Found& found, RecordType type) {
    return found.type == static_cast<std::uint32_t>(type);
}

bool same_channels(const Description& a, const Description& b) {
    return std::ranges::equal(a.channels, b.channels, [](const auto& x, const auto& y) {
        return x.heading == y.heading && x.unit == y.unit && x.factor_to_SI == y.factor_to_SI &&
               x.quantity == y.quantity;
    });
}

}  // namespace

ContainerReader::ContainerReader(Bytes bytes)
    : bytes_(std::move(bytes)),
      scan_([this](char* into, std::size_t room) { return bytes_.read_raw(into, room); },
            container::opening_bytes) {}

Result<std::unique_ptr<ContainerReader>> ContainerReader::open(Bytes bytes, const ReadOptions& options) {
    std::unique_ptr<ContainerReader> reader(new ContainerReader(std::move(bytes)));
    if (auto error = reader->find_description()) return *error;
    if (auto error = reader->apply(options)) return *error;
    return reader;
}

std::optional<Error> ContainerReader::find_description() {
    const std::string& name = bytes_.name();
    std::string opening;
    while (opening.size() < container::opening_bytes) {
        char byte = 0;
        const Result<std::size_t> got = bytes_.read_raw(&byte, 1);
        if (!got) return got.error();
        if (*got == 0) break;
        opening += byte;
    }
    if (opening.size() < container::opening_bytes || !container::looks_like_one(opening))
        return Error{Fault::bad_input, "is no whole recording container", name,
                     "Look for another copy: nothing of this one can be read"};
    if (opening.back() != container::version)
        return Error{Fault::bad_input,
                     fmt::format("is a recording container of version {}, this program reads version {}",
                                 static_cast<int>(static_cast<unsigned char>(opening.back())),
                                 static_cast<int>(container::version)),
                     name, "Read it with a newer version of the program"};
    for (;;) {
        const auto found = scan_.next();
        if (!found) return found.error();
        if (!*found) break;
        if (!is(**found, RecordType::description)) continue;
        auto contents = container::parse_description((*found)->payload);
        if (!contents) continue;
        contents_ = std::move(contents).value();
        found_ = **found;
        // Whatever stood before it cannot be read without it.
        found_->skipped_from = container::opening_bytes;
        break;
    }
    if (!found_)
        return Error{Fault::bad_input,
                     "holds no whole description of its channels, so no samples can be read", name,
                     "Look for another copy; a recorder that was just started may not have written it yet"};
    description_ = contents_.about;
    description_.file = name;
    description_.format = "recording container";
    description_.dialect =
        fmt::format("{} {}{}{}", contents_.holds_runs ? "runs kept of" : "made from", contents_.about.format,
                    contents_.about.dialect.empty() ? "" : ": ", contents_.about.dialect);
    samples_.resize(description_.channels.size());
    last_s_.assign(description_.channels.size(), before_all);
    return {};
}

std::optional<Error> ContainerReader::apply(const ReadOptions& options) {
    auto& channels = description_.channels;
    if (auto error = name_channels(channels, options, bytes_.name())) return error;
    for (std::size_t c = 0; c < channels.size(); ++c)
        if (const auto& was = contents_.about.channels[c];
            contents_.holds_runs && channels[c].quantity != was.quantity)
            return Error{
                Fault::bad_input,
                fmt::format("its runs were cut with '{}' as {}", was.heading, trace::name_of(was.quantity)),
                bytes_.name(), "Read the recording that the runs were cut from to use other channels"};
    return {};
}

// ---- records, one after the other ----

Result<bool> ContainerReader::next(Block& block) {
    block.starts_segment = block.ends_segment = false;
    block.run.reset();
    block.notices.clear();
    block.channels.resize(samples_.size());
    for (ChannelBlock& channel : block.channels) {
        channel.time_s.clear();
        channel.value.clear();
    }
    for (;;) {
        if (!found_) {
            if (finished_) return !block.notices.empty();
            const auto found = scan_.next();
            if (!found) return found.error();
            if (!*found) {
                finish(block);
                continue;
            }
            found_ = **found;
            placed_ = false;
        }
        if (!placed_) {
            placed_ = true;
            place(block);
            if (!block.notices.empty()) return true;
            continue;
        }
        if (handle(block)) return true;
        if (waiting_.size() >= notices_a_block) {
            hand_out_waiting(block);
            return true;
        }
    }
}

// What the number of a record, the bytes before it and its payload say; drops one that is not to be taken.
void ContainerReader::place(Block& block) {
    const auto& found = *found_;
    std::string text;
    const auto say = [&text](std::string part) { text += (text.empty() ? "" : "; ") + std::move(part); };
    if (found.skipped_from < found.begin)
        say(fmt::format("{} {} damaged", bytes_text(found.skipped_from, found.begin),
                        found.begin - found.skipped_from == 1 ? "is" : "are"));
    const container::RecordOrder::Verdict verdict = order_.take(found.number, found.begin);
    if (verdict.place == Place::repeated) {
        if (repeated_ && text.empty()) {
            repeated_->to = found.end;
            repeated_->last = found.number;
        } else {
            tell_repeats(block);
            if (!text.empty()) tell_damage(block, text, false);
            repeated_ = Repeated{found.begin, found.end, found.number, found.number};
        }
        found_.reset();
        return;
    }
    tell_repeats(block);
    if (!verdict.text.empty()) say(verdict.text);
    const bool lost = verdict.place == Place::breaks;
    if (lost) {
        tell_damage(block, text, true);
        text.clear();
    }
    if (auto fault = fault_of()) {
        say(fmt::format("{} break a rule of the format: {}", bytes_text(found.begin, found.end), *fault));
        tell_damage(block, text, true);
        last_type_ = found.type;
        found_.reset();
        return;
    }
    if (!text.empty()) tell_damage(block, text, false);
}

/// Reads the payload; what is wrong with it, if anything is.
std::optional<std::string> ContainerReader::fault_of() {
    const auto& found = *found_;
    if (is(found, RecordType::description)) {
        const auto contents = container::parse_description(found.payload);
        if (!contents) return contents.error().what;
        if (!same_channels(contents->about, contents_.about) || contents->holds_runs != contents_.holds_runs)
            return "the description does not change within a file";
    } else if (is(found, RecordType::samples)) {
        const auto read = container::parse_samples(found.payload, samples_);
        if (!read) return read.error().what;
        for (std::size_t c = 0; c < samples_.size() && in_segment_; ++c)
            if (!samples_[c].time_s.empty() && samples_[c].time_s.front() < last_s_[c])
                return "times do not decrease within a segment";
    } else if (is(found, RecordType::notice)) {
        auto notice = container::parse_notice(found.payload);
        if (!notice) return notice.error().what;
        notice_ = std::move(notice).value();
    } else if (is(found, RecordType::run)) {
        auto run = container::parse_run(found.payload);
        if (!run) return run.error().what;
        if (in_segment_ && !starts_) return "a run stands before the samples of its segment";
        parsed_run_ = std::move(run).value();
    } else if (is(found, RecordType::end)) {
        auto original = container::parse_end(found.payload);
        if (!original) return original.error().what;
        original_ = std::move(original).value();
        description_.metadata = original_->metadata;
    }
    return {};
}

// Laid on the samples on both sides; where nothing is lost the segment goes on.
void ContainerReader::tell_damage(Block& block, const std::string& text, bool lost) {
    Notice notice;
    notice.kind = Kind::damaged;
    notice.text = text;
    const bool opening = in_segment_ && starts_;
    const bool now = lost || !opening;
    if (now) {
        if (in_segment_ && !starts_) {
            hand_out_waiting(block);
            notice.time_s = edge_last_s_;
        }
        block.notices.push_back(notice);
    }
    if (lost || opening) waiting_.push_back({std::move(notice), false, now});
    if (lost) {
        in_segment_ = starts_ = false;
        run_.reset();
    }
}

/// To no samples, because none came that they belong to.
void ContainerReader::hand_out_waiting(Block& block) {
    for (Waiting& waiting : waiting_)
        if (!waiting.told) block.notices.push_back(std::move(waiting.notice));
    waiting_.clear();
}

void ContainerReader::tell_repeats(Block& block) {
    if (!repeated_) return;
    const Repeated repeated = *repeated_;
    repeated_.reset();
    tell_damage(
        block,
        fmt::format("{} repeat {} and were skipped", bytes_text(repeated.from, repeated.to),
                    repeated.first == repeated.last
                        ? fmt::format("record {}", grouped(repeated.first))
                        : fmt::format("records {} to {}", grouped(repeated.first), grouped(repeated.last))),
        false);
}

/// True when the block is to be handed out. A record that has to wait for that stays at hand.
bool ContainerReader::handle(Block& block) {
    const auto& found = *found_;
    switch (static_cast<RecordType>(found.type)) {
        case RecordType::description:
            break;
        case RecordType::segment_start:
            hand_out_waiting(block);
            if (!block.notices.empty()) return true;
            in_segment_ = starts_ = true;
            run_.reset();
            last_s_.assign(samples_.size(), before_all);
            break;
        case RecordType::samples:
            return take_samples(block);
        case RecordType::notice:
            waiting_.push_back({std::move(*notice_)});
            break;
        case RecordType::run:
            if (in_segment_) run_ = parsed_run_;
            break;
        case RecordType::segment_end:
            hand_out_waiting(block);
            block.ends_segment = in_segment_ && !starts_;
            in_segment_ = starts_ = false;
            break;
        case RecordType::end:
            break;
        default: {
            Notice notice;
            notice.kind = Kind::record_skipped;
            notice.time_s = in_segment_ && !starts_ ? edge_last_s_ : 0;
            notice.text = fmt::format("record {} at byte {} is of type {}, which this version does not know",
                                      grouped(found.number), grouped(found.begin), found.type);
            waiting_.push_back({std::move(notice)});
        }
    }
    last_type_ = found.type;
    found_.reset();
    return block.ends_segment || !block.notices.empty();
}

bool ContainerReader::take_samples(Block& block) {
    const bool begins = !in_segment_ || starts_;
    if (!in_segment_) {
        run_.reset();
        last_s_.assign(samples_.size(), before_all);
    }
    const double first_s = edge_s(samples_, false);
    for (Waiting& waiting : waiting_) {
        if (!waiting.timed) waiting.notice.time_s = first_s;
        block.notices.push_back(std::move(waiting.notice));
    }
    waiting_.clear();
    for (std::size_t c = 0; c < samples_.size(); ++c) {
        if (!samples_[c].time_s.empty()) last_s_[c] = samples_[c].time_s.back();
        std::swap(block.channels[c], samples_[c]);
    }
    block.starts_segment = begins;
    if (begins) block.run = run_;
    edge_last_s_ = edge_s(block.channels, true);
    in_segment_ = true;
    starts_ = false;
    last_type_ = found_->type;
    found_.reset();
    return true;
}

/// Where a notice must lie to be within the run that the first or last samples belong to: runs are as long as
/// the channel that drives them, so it is the innermost of the voltages' own edges.
double ContainerReader::edge_s(const std::vector<ChannelBlock>& channels, bool last) const {
    std::optional<double> edge_s;
    for (const bool voltages : {true, false}) {
        for (std::size_t c = 0; c < channels.size(); ++c) {
            const Quantity quantity = description_.channels[c].quantity;
            const bool voltage =
                quantity == Quantity::specimen_voltage || quantity == Quantity::electrode_voltage;
            if (channels[c].time_s.empty() || voltage != voltages) continue;
            const double own_s = last ? channels[c].time_s.back() : channels[c].time_s.front();
            edge_s = !edge_s ? own_s : last ? std::min(*edge_s, own_s) : std::max(*edge_s, own_s);
        }
        if (edge_s) break;
    }
    return edge_s.value_or(edge_last_s_);
}

void ContainerReader::finish(Block& block) {
    finished_ = true;
    tell_repeats(block);
    hand_out_waiting(block);
    const std::uint64_t torn = scan_.taken() - scan_.whole_until();
    if (torn == 0 && last_type_ == static_cast<std::uint32_t>(RecordType::end)) return;
    Notice notice;
    notice.kind = Kind::torn_tail;
    notice.time_s = in_segment_ && !starts_ ? edge_last_s_ : 0;
    notice.text = torn > 0
                      ? fmt::format("the last {} bytes (from byte {}) are no whole record and were left out",
                                    grouped(torn), grouped(scan_.whole_until()))
                      : "the container was not closed: it is still being written, or writing was broken off";
    block.notices.push_back(std::move(notice));
}

Result<std::unique_ptr<Source>> open_container(Bytes bytes, const ReadOptions& options) {
    auto reader = ContainerReader::open(std::move(bytes), options);
    if (!reader) return reader.error();
    return std::unique_ptr<Source>(std::move(reader).value());
}

// ---- what the whole says ----

std::optional<KeptRuns> ContainerReader::kept_runs() const {
    if (!contents_.holds_runs) return {};
    KeptRuns kept{contents_.about.format, contents_.about.dialect, "", 0, {}};
    if (original_) {
        kept.sha256 = original_->sha256;
        kept.bytes = original_->bytes;
        kept.notices = original_->notices;
    }
    return kept;
}

ContainerReader::Resume ContainerReader::resume() const {
    return {scan_.whole_until(), order_.next_number(), in_segment_, edge_last_s_};
}

}  // namespace ebbtide::recording
