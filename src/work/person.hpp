#pragma once
// The person at a driven bench: what is asked, what is answered, how it is stopped.

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>

#include "bench/bench_check.hpp"
#include "plan/order.hpp"

namespace ebbtide::work {

/// What is asked of the person at the bench.
struct Question {
    enum class Kind {
        setup,  ///< one line of the laboratory's list is done
        mount,  ///< the specimen hangs in the clamps and is neutralised, the door is closed
        leave,  ///< replicates ran unattended as many times as they may, or a pause was asked for
        look,   ///< after an abort: try again, or leave this place open
    } kind = Kind::mount;
    std::string words;
    std::optional<plan::RunKey> key = {};        ///< of mount and look in an order
    std::optional<bench::Mounted> mounted = {};  ///< of mount in a bench check
    std::uint64_t number = 0;                    ///< from 1 on in a session
};
enum class Answer { done, skip, stop };

[[nodiscard]] std::string_view name_of(Question::Kind kind);
[[nodiscard]] std::string_view name_of(Answer answer);

/// The person at the bench, or who stands in for one. All are called from the thread that drives.
struct Person {
    std::function<Answer(const Question&)> ask;  ///< may take as long as it likes: the bench is at rest
    std::function<bool()> stop = {};             ///< at once, from any phase
    std::function<bool()> pause = {};            ///< before the next run; asked once a run
};

}  // namespace ebbtide::work
