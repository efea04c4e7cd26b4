#pragma once
// The JSON that a request carries, read key by key; what is unknown, missing or of another kind is an error
// that names it.

#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "basis/instant.hpp"
#include "basis/result.hpp"
#include "server/request.hpp"

namespace ebbtide::server {

/// An object. Reads never fail at once: the first problem is kept until it is asked for. Null is absent.
class Fields {
  public:
    /// The body of a request. Problem: it is no JSON, or no object.
    explicit Fields(const Request& request);

    [[nodiscard]] bool has(const char* key);
    /// Must be there, and not empty.
    [[nodiscard]] std::string text(const char* key);
    [[nodiscard]] std::string text_or(const char* key, std::string otherwise = "");
    [[nodiscard]] std::vector<std::string> texts(const char* key);
    [[nodiscard]] std::optional<double> number(const char* key);
    /// From 0.
    [[nodiscard]] std::optional<std::size_t> index(const char* key);
    [[nodiscard]] bool truth_or(const char* key, bool otherwise);
    [[nodiscard]] std::optional<Date> date(const char* key);
    [[nodiscard]] std::optional<Instant> instant(const char* key);
    /// An object in it; an empty one where there is none.
    [[nodiscard]] Fields object(const char* key);
    [[nodiscard]] std::vector<Fields> objects(const char* key);

    /// Where no other problem was met: keys that nobody asked for, `inner` objects included.
    [[nodiscard]] std::optional<Error> problem() const;
    void refuse(const std::string& what, const char* key, const std::string& remedy);

  private:
    struct Shared {
        std::optional<Error> first;
        std::vector<std::pair<std::string, const nlohmann::json*>> objects;
        std::set<std::string> asked;  // "customer.name"
        nlohmann::json body;
    };
    Fields(std::shared_ptr<Shared> shared, const nlohmann::json* object, std::string place);
    [[nodiscard]] const nlohmann::json* find(const char* key);
    [[nodiscard]] std::string name(const char* key) const;

    std::shared_ptr<Shared> shared_;
    const nlohmann::json* object_;
    std::string place_;  // "" or "customer."
};

}  // namespace ebbtide::server
