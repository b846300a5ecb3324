// Fuzz target: any bytes give the instances of a CDF file, each a table or one line, or one line. A
// table that was read is written, and reads back to the same doubles.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>

#include "car/tables/cdf.h"

namespace {

using namespace fuelwright::car;

void check_round_trip(const Surface& surface, TableWhat what) {
  Calibration c;
  c.tables.emplace(what, surface);
  const auto all = read_cdf(write_cdf(c));
  if (!all || all->size() != 1) std::abort();
  TextReading reading;
  reading.what = what;
  const auto back = table_of(all->front(), reading);
  if (!back || back->surface != surface) std::abort();
}

// Any instance as any curve or setting: a value that can be, or one line.
void check_parts(const CdfInstance& instance) {
  const auto one_line = [](const auto& r) {
    if (!r && r.error().line().find('\n') != std::string::npos) std::abort();
  };
  for (const CurveWhat what : {CurveWhat::warm_up_fuel, CurveWhat::dead_time}) {
    const auto curve = curve_of(instance, what);
    one_line(curve);
    if (!curve) continue;
    Calibration c;
    c.curves.emplace(what, *curve);
    const auto all = read_cdf(write_cdf(c));
    if (!all || all->size() != 1) std::abort();
    const auto back = curve_of(all->front(), what);
    if (!back || *back != *curve) std::abort();
  }
  one_line(setting_of(instance, SettingWhat::hard_rev_limit));
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view bytes(reinterpret_cast<const char*>(data), size);
  const auto all = read_cdf(bytes);
  if (!all) {
    if (all.error().line().find('\n') != std::string::npos) std::abort();
    return 0;
  }
  for (const CdfInstance& instance : *all) {
    check_parts(instance);
    for (const auto what : {TableWhat::ve, TableWhat::lambda_target, TableWhat::spark}) {
      TextReading reading;
      reading.what = what;
      reading.load = AxisKind::map_absolute;
      reading.y_unit = "kPa";
      const auto table = table_of(instance, reading);
      if (table) check_round_trip(table->surface, what);
      if (!table && table.error().line().find('\n') != std::string::npos) std::abort();
    }
  }
  return 0;
}
