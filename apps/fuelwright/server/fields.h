/// Reads a JSON object (or a query) key by key; the first thing that is wrong is kept.
///
///   Fields in(asked.body, "body");
///   request.why = in.text("why");
///   request.minutes = in.number("minutes");
///   FW_CHECK(in.done());            // "body: minutes: "ten" came; expected a number"
#pragma once

#include <cstdint>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "base/result.h"
#include "apps/fuelwright/server/request.h"

namespace fuelwright::apps::server {

class Fields {
 public:
  /// `object` must outlive it. A query is an object of texts: numbers are read from them.
  Fields(const Json& object, std::string where, bool is_query = false);

  std::optional<std::string> maybe_text(const char* key);
  std::string text(const char* key) { return maybe_text(key).value_or(""); }
  std::string needed_text(const char* key);
  std::optional<double> number(const char* key);
  double needed_number(const char* key);
  /// Inside low..high.
  std::optional<std::int64_t> whole(const char* key, std::int64_t low, std::int64_t high);
  std::optional<int> revision(const char* key);
  int needed_revision(const char* key);
  bool flag(const char* key);
  /// A list of texts, or of whole numbers as texts; in a query "1,2,3".
  std::vector<std::string> words(const char* key);
  const Json* list(const char* key);
  const Json* object(const char* key);
  const Json* any(const char* key);

  /// Keeps an error of the caller's, if none came before it.
  void fail(const Error& error);
  void fail(const char* key, const std::string& expected);
  /// The first error, or that of a key nobody asked for.
  Status done() const;

 private:
  const Json* at(const char* key);

  const Json& object_;
  std::string where_;
  bool is_query_;
  std::set<std::string> known_;
  std::optional<Error> error_;
};

}  // namespace fuelwright::apps::server
