#include "transport/buffered.hpp"

#include <algorithm>
#include <chrono>
#include <condition_variable>
#include <cstring>
#include <deque>
#include <mutex>
#include <optional>
#include <thread>
#include <utility>
#include <vector>

namespace ebbtide::transport {
namespace {

constexpr std::size_t portion = std::size_t{64} << 10;
/// Of HDF5 files and recording containers, whose pieces prove themselves.
constexpr char binary_beginning = '\x89';
constexpr double look_s = 0.05;  // how soon the thread sees that it is to end

class Buffered final : public ByteStream {
  public:
    Buffered(std::unique_ptr<ByteStream> stream, std::size_t capacity, WhenFull when_full)
        : stream_(std::move(stream)),
          capacity_(std::max(capacity, 2 * portion)),
          when_full_(when_full),
          reader_([this] { read_on(); }) {}
    ~Buffered() override {
        {
            const std::lock_guard lock(mutex_);
            stop_ = true;
        }
        room_.notify_all();
        reader_.join();
    }
    Buffered(const Buffered&) = delete;
    Buffered& operator=(const Buffered&) = delete;

    Result<Arrival> read(char* into, std::size_t room, double timeout_s) override {
        std::unique_lock lock(mutex_);
        come_.wait_for(lock, std::chrono::duration<double>(std::clamp(timeout_s, 0.0, 1e6)),
                       [this] { return !pieces_.empty() || closed_; });
        if (pieces_.empty()) {
            if (error_) return *error_;
            Arrival arrival;
            if (closed_) {
                arrival.state = Arrival::State::ended;
                arrival.lost = std::exchange(lost_, 0);
            }
            return arrival;
        }
        Piece& piece = pieces_.front();
        Arrival arrival{Arrival::State::bytes, std::min(room, piece.bytes.size() - piece.used),
                        std::exchange(piece.lost_before, 0)};
        std::memcpy(into, piece.bytes.data() + piece.used, arrival.count);
        piece.used += arrival.count;
        held_ -= arrival.count;
        if (piece.used == piece.bytes.size()) pieces_.pop_front();
        lock.unlock();
        room_.notify_one();
        return arrival;
    }
    const std::string& name() const override { return stream_->name(); }

  private:
    struct Piece {
        std::vector<char> bytes;
        std::size_t used = 0;
        std::uint64_t lost_before = 0;
    };

    void read_on() {
        std::vector<char> line;  // the beginning of one
        std::vector<char> come(portion);
        for (;;) {
            {
                const std::lock_guard lock(mutex_);
                if (stop_) return;
            }
            const Result<Arrival> arrival = stream_->read(come.data(), come.size(), look_s);
            const bool over = !arrival || arrival->state == Arrival::State::ended;
            if (arrival && arrival->state == Arrival::State::bytes) {
                const char* begin = come.data();
                const char* const end = begin + arrival->count;
                if (!begun_) whole_lines_ = when_full_ == WhenFull::drop && *begin != binary_beginning;
                begun_ = true;
                if (arrival->lost > 0) {
                    // Where in the lines they are missing nobody knows: both ends of the hole go with it.
                    while (whole_lines_ && begin != end && begin[0] != '\n' && begin[0] != '\r') ++begin;
                    count_lost(arrival->lost + line.size() + static_cast<std::size_t>(begin - come.data()));
                    line.clear();
                }
                const char* cut = end;
                while (whole_lines_ && cut != begin && cut[-1] != '\n' && cut[-1] != '\r') --cut;
                if (cut == begin && line.size() + static_cast<std::size_t>(end - begin) > portion) cut = end;
                if (cut != begin) {
                    line.insert(line.end(), begin, cut);
                    if (!hand_on(std::exchange(line, {}))) return;
                }
                line.insert(line.end(), cut, end);
            }
            if (!over) continue;
            if (!line.empty() && !hand_on(std::move(line))) return;
            const std::lock_guard lock(mutex_);
            if (!arrival) error_ = arrival.error();
            closed_ = true;
            come_.notify_all();
            return;
        }
    }

    void count_lost(std::uint64_t bytes) {
        const std::lock_guard lock(mutex_);
        lost_ += bytes;
    }

    /// False when it is time to end.
    bool hand_on(std::vector<char> bytes) {
        std::unique_lock lock(mutex_);
        const auto fits = [&] { return held_ + bytes.size() <= capacity_; };
        if (when_full_ == WhenFull::wait) room_.wait(lock, [&] { return stop_ || fits(); });
        if (stop_) return false;
        if (fits()) {
            held_ += bytes.size();
            // Small ones are laid together, or their own size would outweigh what they bring.
            if (lost_ == 0 && !pieces_.empty() && pieces_.back().bytes.size() + bytes.size() <= portion)
                pieces_.back().bytes.insert(pieces_.back().bytes.end(), bytes.begin(), bytes.end());
            else
                pieces_.push_back({std::move(bytes), 0, std::exchange(lost_, 0)});
            come_.notify_one();
        } else {
            lost_ += bytes.size();
        }
        return true;
    }

    std::unique_ptr<ByteStream> stream_;
    const std::size_t capacity_;
    const WhenFull when_full_;
    bool begun_ = false, whole_lines_ = false;  // the reader's own
    std::mutex mutex_;                          // over all that follows
    std::condition_variable come_, room_;
    std::deque<Piece> pieces_;
    std::size_t held_ = 0;
    std::uint64_t lost_ = 0;  // since the last piece
    bool stop_ = false, closed_ = false;
    std::optional<Error> error_;
    std::thread reader_;  // last: it uses the others
};

}  // namespace

std::unique_ptr<ByteStream> buffered(std::unique_ptr<ByteStream> stream, std::size_t capacity,
                                     WhenFull when_full) {
    return std::make_unique<Buffered>(std::move(stream), capacity, when_full);
}

}  // namespace ebbtide::transport
