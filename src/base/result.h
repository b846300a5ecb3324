/// Result<T>: a value, or one clear line about what is wrong with the world (a file, a request, an
/// input).
///
///   Result<double> half(double x) {
///     if (x < 0) return Error{ErrorCode::out_of_range, "half", "came -1, expected 0 or more"};
///     return x / 2;
///   }
///
/// A message says where, what came and what was expected; `where` is a place a person can go to
/// ("log.csv:812", "sheet.toml:14: engine.bore"). A weak answer is no error: it is a verdict inside
/// the reply. Our own bug is no error either: it is a Bug (base/contract.h).
#pragma once

#include <string>
#include <utility>
#include <variant>

#include "base/contract.h"

namespace fuelwright {

/// The closed list of failures. exit_code() and http_status() map each one; docs/exit_codes.md
/// lists them.
enum class ErrorCode {
  usage,          ///< the command or request itself makes no sense
  bad_input,      ///< a file or value cannot be read as what it should be
  unknown_unit,   ///< a unit that is not in the table; never guessed
  out_of_range,   ///< understood, but not a value that can be
  needs_answer,   ///< more than one reading is possible: the user must say which
  not_found,      ///< no such file, job, revision, channel
  conflict,       ///< it exists already, or has changed meanwhile
  too_large,      ///< beyond a stated bound
  io,             ///< the operating system refused (disk full, read-only, permission)
  damaged,        ///< a job file that is not sound; never overwritten
  locked,         ///< another program is writing to the job
  newer_version,  ///< made by a newer fuelwright
};

int exit_code(ErrorCode code);
int http_status(ErrorCode code);
/// "bad_input" and so on, for JSON.
const char* name_of(ErrorCode code);

struct Error {
  ErrorCode code = ErrorCode::bad_input;
  std::string where;    ///< a place; may be empty
  std::string message;  ///< what came, what was expected

  /// "where: message", the one line a person reads.
  std::string line() const { return where.empty() ? message : where + ": " + message; }
};

template <class T>
class [[nodiscard]] Result {
 public:
  Result(T value) : v_(std::move(value)) {}      // NOLINT(google-explicit-constructor)
  Result(Error error) : v_(std::move(error)) {}  // NOLINT(google-explicit-constructor)

  bool ok() const { return v_.index() == 0; }
  explicit operator bool() const { return ok(); }

  T& operator*() & { return value(); }
  const T& operator*() const& { return value(); }
  T&& operator*() && { return std::move(value()); }
  T* operator->() { return &value(); }
  const T* operator->() const { return &value(); }

  T& value() {
    EXPECTS(ok());
    return *std::get_if<0>(&v_);
  }
  const T& value() const {
    EXPECTS(ok());
    return *std::get_if<0>(&v_);
  }
  const Error& error() const {
    EXPECTS(!ok());
    return *std::get_if<1>(&v_);
  }

 private:
  std::variant<T, Error> v_;
};

/// For functions that answer nothing but "done".
struct Done {};
using Status = Result<Done>;

}  // namespace fuelwright

#define FW_CAT2(a, b) a##b
#define FW_CAT(a, b) FW_CAT2(a, b)

/// FW_TRY(auto sheet, read_sheet(text));  declares `sheet`, or returns the error to our caller.
#define FW_TRY(declaration, expression)          \
  auto FW_CAT(fw_try_, __LINE__) = (expression); \
  if (!FW_CAT(fw_try_, __LINE__)) {              \
    return FW_CAT(fw_try_, __LINE__).error();    \
  }                                              \
  declaration = std::move(FW_CAT(fw_try_, __LINE__)).operator*()

/// FW_CHECK(store.save(x));  returns the error to our caller, if there is one.
#define FW_CHECK(expression)                         \
  do {                                               \
    if (auto fw_status = (expression); !fw_status) { \
      return fw_status.error();                      \
    }                                                \
  } while (false)
