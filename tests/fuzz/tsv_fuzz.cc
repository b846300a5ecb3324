// Fuzz target: any pasted text, with any answers, gives a table that can be written and read back,
// or one line.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>

#include "car/tables/placing.h"
#include "car/tables/table_text.h"

namespace {

using namespace fuelwright::car;

// The first byte answers: table, load, decimal mark, whether there are axes to match.
TextReading answers_of(std::uint8_t bits) {
  TextReading reading;
  reading.what = bits & 1U ? TableWhat::lambda_target : TableWhat::ve;
  if (bits & 2U) reading.load = bits & 4U ? AxisKind::vacuum : AxisKind::throttle;
  if (bits & 8U) reading.decimal = bits & 16U ? ',' : '.';
  if (bits & 32U) {
    reading.axes = Grid{Axis::even(AxisKind::engine_speed, 1000, 4000, 4),
                        Axis::even(AxisKind::map_absolute, 40e3, 100e3, 3)};
    if (bits & 64U) reading.at = NodePlace{1, 1};
    reading.last_row_first = (bits & 128U) != 0;
  }
  return reading;
}

void check(const ReadTable& table, const TextReading& reading) {
  if (table.surface.values.size() != table.surface.grid.size()) std::abort();
  if (table.surface.values.front() != table.surface.values.front()) std::abort();
  TextReading plain;
  plain.what = reading.what;
  for (const auto form : {TextForm::tsv, TextForm::csv}) {
    const auto text = write_table(table.surface, reading.what, form, fuelwright::UnitSystem::us);
    const auto back = read_table(text, plain);
    // Values of one table may be in % or fractions: the middle one tells, and may mislead.
    if (back && reading.what == TableWhat::lambda_target && back->surface != table.surface) {
      std::abort();
    }
    if (!back && back.error().line().find('\n') != std::string::npos) std::abort();
  }
  if (!reading.axes) return;
  const auto placed = place(table.surface, Surface::flat(*reading.axes, 0.8), true, true);
  if (placed && placed->nodes.size() > reading.axes->size()) std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  const TextReading reading = answers_of(data[0]);
  const std::string_view text(reinterpret_cast<const char*>(data + 1), size - 1);
  const auto table = read_table(text, reading);
  if (table) {
    check(*table, reading);
  } else if (table.error().line().find('\n') != std::string::npos) {
    std::abort();
  }
  return 0;
}
