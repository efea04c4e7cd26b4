#include "server/live_feed.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "work/live_json.hpp"

namespace ebbtide::server {
namespace {

std::string line_text(const nlohmann::json& event) {
    // Words of a system or a file may be no UTF-8; nothing may throw into the thread that records.
    return event.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
}

void append_event(std::string& out, std::uint64_t number, std::string_view line) {
    fmt::format_to(std::back_inserter(out), "id: {}\ndata: {}\n\n", number, line);
}

}  // namespace

void merge_into(work::Frame& coarse, const work::Frame& later) {
    coarse.from_s = std::min(coarse.from_s, later.from_s);
    coarse.to_s = std::max(coarse.to_s, later.to_s);
    for (std::size_t c = 0; c < coarse.channels.size() && c < later.channels.size(); ++c) {
        work::Frame::Channel& into = coarse.channels[c];
        const work::Frame::Channel& from = later.channels[c];
        if (from.samples == 0) continue;
        if (into.samples == 0) {
            into = from;
            continue;
        }
        const double share =
            static_cast<double>(from.samples) / static_cast<double>(into.samples + from.samples);
        into.mean += (from.mean - into.mean) * share;
        into.lowest = std::min(into.lowest, from.lowest);
        into.highest = std::max(into.highest, from.highest);
        into.samples += from.samples;
    }
}

bool LiveFeed::mergeable(const StoredFrame& a, const StoredFrame& b) {
    return a.source == b.source && a.frame->channels.size() == b.frame->channels.size();
}

LiveFeed::StoredFrame LiveFeed::merged(const StoredFrame& a, const StoredFrame& b) {
    auto coarse = std::make_shared<work::Frame>(*a.frame);
    merge_into(*coarse, *b.frame);
    return {a.first, b.number, b.source, std::move(coarse), nullptr};
}

std::uint64_t LiveFeed::add_event(std::string text, bool opens) {
    auto shared = std::make_shared<const std::string>(std::move(text));
    std::uint64_t number = 0;
    {
        const std::lock_guard lock(mutex_);
        number = ++last_;
        if (opens) source_ = number;
        event_bytes_ += shared->size();
        events_.push_back({number, std::move(shared)});
        while (events_.size() > 1 &&
               (events_.size() > limits_.events || event_bytes_ > limits_.event_bytes)) {
            event_bytes_ -= events_.front().text->size();
            dropped_ = events_.front().number;
            events_.pop_front();
        }
    }
    return number;
}

std::uint64_t LiveFeed::publish(const nlohmann::json& event) {
    const std::uint64_t number = add_event(line_text(event), false);
    const std::lock_guard lock(news_mutex_);
    if (news_) news_();
    return number;
}

std::uint64_t LiveFeed::publish(const work::LiveEvent& event) {
    std::string text = line_text(work::event_line(event));
    std::uint64_t number = 0;
    if (const auto* frame = std::get_if<work::Frame>(&event)) {
        StoredFrame stored{0, 0, 0, std::make_shared<const work::Frame>(*frame),
                           std::make_shared<const std::string>(std::move(text))};
        const std::lock_guard lock(mutex_);
        number = stored.first = stored.number = ++last_;
        stored.source = source_;
        frames_.push_back(std::move(stored));
        if (frames_.size() > limits_.frames) thin_frames();
    } else {
        number = add_event(std::move(text), std::holds_alternative<work::SourceOpened>(event));
    }
    const std::lock_guard lock(news_mutex_);
    if (news_) news_();
    return number;
}

/// The older half two by two: what is longest ago is coarsest, and a frame is merged once in a long while.
void LiveFeed::thin_frames() {
    const std::size_t half = frames_.size() / 2;
    std::deque<StoredFrame> thinned;
    std::size_t i = 0;
    while (i < half) {
        if (i + 1 < half && mergeable(frames_[i], frames_[i + 1])) {
            thinned.push_back(merged(frames_[i], frames_[i + 1]));
            i += 2;
        } else {
            thinned.push_back(std::move(frames_[i++]));
        }
    }
    // Sources that were opened again and again leave frames that cannot be merged: the oldest go.
    if (thinned.size() > half * 3 / 4)
        thinned.erase(thinned.begin(), thinned.begin() + static_cast<std::ptrdiff_t>(half / 4));
    for (; i < frames_.size(); ++i) thinned.push_back(std::move(frames_[i]));
    frames_ = std::move(thinned);
}

std::uint64_t LiveFeed::last() const {
    const std::lock_guard lock(mutex_);
    return last_;
}

FeedBatch LiveFeed::after(std::uint64_t after, std::size_t frames, std::size_t bytes) const {
    std::vector<Event> events;
    std::vector<StoredFrame> pending;
    FeedBatch batch;
    std::uint64_t dropped = 0;
    {
        const std::lock_guard lock(mutex_);
        if (after > last_) after = 0;
        batch.last = after;
        if (after == last_) return batch;
        if (dropped_ > after) dropped = dropped_;
        const auto behind = [after](const auto& one) { return one.number <= after; };
        std::size_t size = 0;
        for (auto at = std::ranges::partition_point(events_, behind); at != events_.end(); ++at) {
            if (!events.empty() && size + at->text->size() > bytes) {
                batch.more = true;
                break;
            }
            size += at->text->size();
            events.push_back(*at);
        }
        // What lies beyond an event that found no room waits with it.
        const std::uint64_t until = batch.more ? events.back().number : last_;
        for (auto at = std::ranges::partition_point(frames_, behind);
             at != frames_.end() && at->first <= until; ++at)
            if (at->number <= until) pending.push_back(*at);
        batch.last = until;
    }

    frames = std::max<std::size_t>(frames, 1);
    if (pending.size() > frames) {
        const std::size_t together = (pending.size() + frames - 1) / frames;
        std::vector<StoredFrame> coarse;
        for (std::size_t i = 0; i < pending.size();) {
            StoredFrame one = pending[i++];
            for (std::size_t n = 1; n < together && i < pending.size() && mergeable(one, pending[i]); ++n)
                one = merged(one, pending[i++]);
            coarse.push_back(std::move(one));
        }
        pending = std::move(coarse);
    }
    batch.frames = pending.size();

    if (dropped != 0)
        append_event(batch.text, dropped,
                     line_text(work::event_line(work::Prompt{
                         "Events of long ago are no longer kept here; the order's folder and its log hold "
                         "what they told. Load the page anew."})));
    auto frame = pending.begin();
    const auto frames_before = [&](std::uint64_t number) {
        for (; frame != pending.end(); ++frame) {
            const std::uint64_t begins = std::max(frame->first, std::max(after, dropped) + 1);
            if (begins >= number) return;
            append_event(batch.text, begins,
                         frame->text ? *frame->text : line_text(work::event_line(*frame->frame)));
        }
    };
    for (const Event& event : events) {
        frames_before(event.number);
        append_event(batch.text, event.number, *event.text);
    }
    frames_before(~std::uint64_t{0});
    return batch;
}

void LiveFeed::on_news(std::function<void()> news) {
    const std::lock_guard lock(news_mutex_);
    news_ = std::move(news);
}

}  // namespace ebbtide::server
