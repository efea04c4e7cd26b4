#pragma once
// The JSON API: which request goes to which handler. docs/formats/page.md says what each answers,
// openapi.json the same for machines.

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "server/desk.hpp"
#include "server/request.hpp"

namespace ebbtide::server {

/// What goes on at the bench is answered elsewhere. Either may be empty: there is no bench.
struct BenchSide {
    std::function<Reply(const Request&)> answer;  ///< to /api/bench and what lies below it
    std::function<std::string()> works_on;        ///< key of the order that is worked on; empty: none
};

/// Thread safe: requests are answered side by side; those that write, one after another.
class Api {
  public:
    explicit Api(Desk desk, BenchSide bench = {});
    ~Api();
    /// Never throws. A path that is none of ours is answered 404, another method of one that is, 405.
    [[nodiscard]] Reply answer(const Request& request);

  private:
    struct State;
    std::unique_ptr<State> state_;
};

/// A path with its names in braces, as in OpenAPI: "/api/orders/{key}/runs/{run}".
struct RouteName {
    std::string method, path;
};
/// Every route there is, those of the bench and the stream of events among them.
[[nodiscard]] std::vector<RouteName> routes();

/// The text of openapi.json.
[[nodiscard]] std::string_view openapi_text();

}  // namespace ebbtide::server
