#pragma once
// The page's server, whole: its wire, the API, the bench behind it, the stream of what happens.

#include <cstdint>
#include <memory>
#include <optional>
#include <string>

#include "basis/result.hpp"
#include "server/desk.hpp"
#include "server/http.hpp"

namespace ebbtide::server {

struct ServeRequest {
    Desk desk;
    std::string address = "127.0.0.1";       ///< or "::1"
    std::uint16_t port = 0;                  ///< 0: one that is free
    std::optional<std::uint64_t> seed = {};  ///< of the simulated bench; none: the simulation's
    HttpLimits limits = {};
};

/// Serves from open() until its end, on threads of its own.
class Serving {
  public:
    /// Errors: the folder or the ledger is not there; the simulation; no such pace; those of
    /// HttpServer::open().
    [[nodiscard]] static Result<std::unique_ptr<Serving>> open(const ServeRequest& request);
    /// Whatever goes on at the bench is aborted first: output off, clamps earthed.
    ~Serving();
    Serving(const Serving&) = delete;
    Serving& operator=(const Serving&) = delete;

    /// What opens the page: "http://127.0.0.1:PORT/?token=HEX".
    [[nodiscard]] std::string entry() const;
    [[nodiscard]] std::uint16_t port() const;
    [[nodiscard]] const std::string& token() const;

  private:
    struct Parts;
    explicit Serving(std::unique_ptr<Parts> parts);
    std::unique_ptr<Parts> parts_;
};

}  // namespace ebbtide::server
