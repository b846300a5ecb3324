#include "base/result.h"

#include <array>

namespace fuelwright {
namespace {

struct Row {
  ErrorCode code;
  const char* name;
  int exit;
  int http;
};

constexpr std::array<Row, 12> kTable{{
    {ErrorCode::usage, "usage", 2, 400},
    {ErrorCode::bad_input, "bad_input", 3, 422},
    {ErrorCode::unknown_unit, "unknown_unit", 3, 422},
    {ErrorCode::out_of_range, "out_of_range", 3, 422},
    {ErrorCode::needs_answer, "needs_answer", 4, 409},
    {ErrorCode::not_found, "not_found", 5, 404},
    {ErrorCode::conflict, "conflict", 6, 409},
    {ErrorCode::too_large, "too_large", 3, 413},
    {ErrorCode::io, "io", 7, 500},
    {ErrorCode::damaged, "damaged", 8, 500},
    {ErrorCode::locked, "locked", 9, 423},
    {ErrorCode::newer_version, "newer_version", 8, 409},
}};

const Row& row(ErrorCode code) {
  for (const Row& r : kTable) {
    if (r.code == code) return r;
  }
  broken_contract("an error code of the table", __FILE__, __LINE__);
}

}  // namespace

int exit_code(ErrorCode code) { return row(code).exit; }
int http_status(ErrorCode code) { return row(code).http; }
const char* name_of(ErrorCode code) { return row(code).name; }

}  // namespace fuelwright
