#pragma once
// Failure that a user can cause is part of the type. Exceptions are kept for broken invariants.

#include <optional>
#include <stdexcept>
#include <string>
#include <utility>
#include <variant>

namespace ebbtide {

/// Few codes, each asking for a different action of the caller.
enum class Fault {
    bad_input,     ///< what the user gave is wrong: say where and how to mend it (exit 2)
    unreadable,    ///< the file or device does not answer (exit 2)
    inconsistent,  ///< figures that should agree do not (exit 20)
    internal,      ///< our own fault (exit 70)
};

/// What happened, where ("orders/demo/order.toml:12", "trace.csv line 7, column 2"), and what to do about it.
struct Error {
    Fault code = Fault::internal;
    std::string what;
    std::string where;
    std::string remedy;

    /// "where: what. remedy", leaving out what is empty.
    [[nodiscard]] std::string text() const {
        std::string out = where.empty() ? what : where + ": " + what;
        if (!remedy.empty()) out += ". " + remedy;
        return out;
    }
};

/// A value or the Error that stands in its place. Asking for the wrong one is a broken invariant and throws.
template <class T>
class [[nodiscard]] Result {
  public:
    Result(T value) : held_(std::move(value)) {}
    Result(Error error) : held_(std::move(error)) {}

    [[nodiscard]] bool ok() const { return held_.index() == 0; }
    explicit operator bool() const { return ok(); }

    [[nodiscard]] const T& value() const& { return require(); }
    [[nodiscard]] T& value() & { return const_cast<T&>(require()); }
    [[nodiscard]] T&& value() && { return std::move(const_cast<T&>(require())); }
    const T& operator*() const& { return require(); }
    T& operator*() & { return value(); }
    const T* operator->() const { return &require(); }
    T* operator->() { return &value(); }

    [[nodiscard]] const Error& error() const {
        if (ok()) throw std::logic_error("Result::error() on a value");
        return std::get<1>(held_);
    }

  private:
    const T& require() const {
        if (!ok()) throw std::logic_error("Result::value() on an error: " + std::get<1>(held_).text());
        return std::get<0>(held_);
    }
    std::variant<T, Error> held_;
};

/// For work that yields nothing but may fail.
struct Done {};

}  // namespace ebbtide
