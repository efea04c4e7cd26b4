#pragma once
// The numbered store of what happened live, from which any number of viewers read at their own pace. Nobody
// who tells waits for somebody who listens: a viewer is a place in the store, and asks for what follows.
// docs/formats/page.md.

#include <cstdint>
#include <deque>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include <nlohmann/json.hpp>

#include "work/live_event.hpp"

namespace ebbtide::server {

/// `coarse` with what `later` saw: lowest, highest, mean over the samples of both. As many channels in both.
void merge_into(work::Frame& coarse, const work::Frame& later);

struct FeedLimits {
    std::size_t events = 100'000, event_bytes = 64u << 20;  ///< those that are no frames; the oldest go
    std::size_t frames = 4096;  ///< stored; when there are more the older half is merged two by two
};

/// A batch of server-sent events for one viewer.
struct FeedBatch {
    std::string text;  ///< empty: nothing new
    std::uint64_t last = 0;
    std::size_t frames = 0;
    bool more = false;  ///< stopped at the size, not at the end
};

/// Any number of threads. Numbers begin at 1 and rise by 1.
class LiveFeed {
  public:
    explicit LiveFeed(FeedLimits limits = {}) : limits_(limits) {}

    /// Stores the event and gives its number. A frame may be merged with its neighbours later, never over a
    /// `source_opened`, which names other channels and begins another time. Any other event is kept, and read
    /// by every viewer once.
    std::uint64_t publish(const work::LiveEvent& event);
    /// An event of the server's own, ebbtide.event/1: no frame.
    std::uint64_t publish(const nlohmann::json& event);

    /// Of the last event; 0: nothing has happened.
    [[nodiscard]] std::uint64_t last() const;

    /// What comes after number `after`: every event that is no frame, in the order of numbers, and the frames
    /// between, merged until there are at most `frames`. A merged frame has the number of the first that is
    /// new in it: who is cut off and asks again from the last number that arrived may get a frame twice, and
    /// misses none. About `bytes` of text at most, one event at least. Where events that are no longer kept
    /// would have been due, an event `prompt` says so first. A number that this feed never gave is of another
    /// launch: everything follows.
    [[nodiscard]] FeedBatch after(std::uint64_t after, std::size_t frames, std::size_t bytes) const;

    /// Called after each publish(), from the thread that published; must return at once. Empty: nobody.
    void on_news(std::function<void()> news);

  private:
    using Text = std::shared_ptr<const std::string>;
    struct Event {
        std::uint64_t number = 0;
        Text text;
    };
    struct StoredFrame {
        std::uint64_t first = 0, number = 0;  ///< of the frames that were merged into it, the last
        std::uint64_t source = 0;             ///< number of the source_opened that it belongs to
        std::shared_ptr<const work::Frame> frame;
        Text text;
    };
    static bool mergeable(const StoredFrame& a, const StoredFrame& b);
    static StoredFrame merged(const StoredFrame& a, const StoredFrame& b);
    std::uint64_t add_event(std::string text, bool opens);
    void thin_frames();

    FeedLimits limits_;
    mutable std::mutex mutex_;  ///< held for copies of pointers only, never for writing text
    std::deque<Event> events_;
    std::deque<StoredFrame> frames_;
    std::size_t event_bytes_ = 0;
    std::uint64_t last_ = 0, dropped_ = 0;  ///< number of the last event that is no longer kept
    std::uint64_t source_ = 0;
    std::mutex news_mutex_;
    std::function<void()> news_;
};

}  // namespace ebbtide::server
