#include "judge/apparatus_match.hpp"

#include <fmt/format.h>

namespace ebbtide::judge {

std::optional<Error> apparatus_conflict(const plan::Method& method, const plan::Specification& specification,
                                        const std::optional<plan::Bench>& bench) {
    const plan::Apparatus asked = method.apparatus;
    const bool bench_agrees = bench ? bench->apparatus == asked : asked == plan::Apparatus::clamp_discharge;
    if (specification.apparatus == asked && bench_agrees) return {};

    const std::string of_bench =
        bench
            ? fmt::format("the bench {} is {}", bench->id, plan::in_words(bench->apparatus))
            : std::string("no bench is named, so that nothing says which apparatus the recordings come from");
    return Error{
        Fault::bad_input,
        fmt::format("the method {} is for {}; the specification {} is about {}; {}", method.id,
                    plan::in_words(asked), specification.id, plan::in_words(specification.apparatus),
                    of_bench),
        "order.toml",
        bench || specification.apparatus != asked
            ? "Each apparatus measures something else, and a recording of one says nothing about a limit "
              "on another: cite a method and a specification that match the bench"
            : "Each apparatus measures something else: name the bench that made the recordings, in a "
              "bench file whose 'apparatus' says what it is"};
}

}  // namespace ebbtide::judge
