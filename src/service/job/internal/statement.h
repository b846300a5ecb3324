/// Values into statements and out of columns, NULL being nullopt.
#pragma once

#include <SQLiteCpp/SQLiteCpp.h>

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace fuelwright::service::internal {

struct Blob {
  std::string_view bytes;
};

inline void bind_one(SQLite::Statement& s, int i, const std::string& value) { s.bind(i, value); }
inline void bind_one(SQLite::Statement& s, int i, const char* value) { s.bind(i, value); }
inline void bind_one(SQLite::Statement& s, int i, int value) { s.bind(i, value); }
inline void bind_one(SQLite::Statement& s, int i, std::int64_t value) { s.bind(i, value); }
inline void bind_one(SQLite::Statement& s, int i, Blob value) {
  s.bindNoCopy(i, value.bytes.data(), static_cast<int>(value.bytes.size()));
}
template <class T>
void bind_one(SQLite::Statement& s, int i, const std::optional<T>& value) {
  if (value) {
    bind_one(s, i, *value);
  } else {
    s.bind(i);
  }
}

template <class... Values>
SQLite::Statement prepared(SQLite::Database& db, const char* sql, const Values&... values) {
  SQLite::Statement statement(db, sql);
  int i = 0;
  (bind_one(statement, ++i, values), ...);
  return statement;
}

/// Adds one row and answers its row id.
template <class... Values>
std::int64_t insert(SQLite::Database& db, const char* sql, const Values&... values) {
  prepared(db, sql, values...).exec();
  return db.getLastInsertRowid();
}

template <class T>
std::optional<T> optional_number(const SQLite::Column& column) {
  if (column.isNull()) return std::nullopt;
  return static_cast<T>(column.getInt64());
}

inline std::string blob_of(const SQLite::Column& column) {
  const int size = column.getBytes();
  return size == 0 ? std::string() : std::string(static_cast<const char*>(column.getBlob()), size);
}

}  // namespace fuelwright::service::internal
