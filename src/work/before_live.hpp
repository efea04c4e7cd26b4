#pragma once
// What must be so before the first live run of an order: a bench check that holds, or somebody who answers
// for its want, and the laboratory's own list, confirmed once a day.

#include <functional>
#include <optional>
#include <string>

#include "basis/instant.hpp"
#include "basis/result.hpp"
#include "plan/bench.hpp"
#include "work/person.hpp"

namespace ebbtide::work {

struct StartRequest {
    std::string order;         ///< its folder, which keeps copies of the checks that it rests on
    std::string checks_place;  ///< the folder that holds the bench file: its checks lie there
    std::string who;
    std::string override_;  ///< why work starts without a good bench check; empty: it does not
    bool dry_run = false;   ///< nothing is written, no check is asked for
};

/// Why work should not have started, where a person let it; nothing where a check holds or the bench asks
/// for none. Errors: no good check and no override, or one without a name; files cannot be read or written.
[[nodiscard]] Result<std::optional<std::string>> start_on_check(const StartRequest& request,
                                                                const plan::Bench& bench, Instant now);

/// False: the person did not confirm a line, or it could not be written down.
[[nodiscard]] bool confirm_setup(const StartRequest& request, const plan::Bench& bench,
                                 const std::function<Answer(const Question&)>& ask,
                                 const std::function<Instant()>& now);

}  // namespace ebbtide::work
