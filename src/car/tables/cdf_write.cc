// A calibration as an ASAM CDF 2.0 file: write_cdf. Reader: cdf.cc.
#include <fmt/format.h>

#include "car/tables/axis_unit.h"
#include "car/tables/cdf.h"
#include "car/tables/internal/decimal.h"

namespace fuelwright::car {
namespace {

std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : text) {
    out += c == '&' ? "&amp;" : c == '<' ? "&lt;" : c == '>' ? "&gt;" : std::string(1, c);
  }
  return out;
}

std::string element(int indent, const char* name, std::string_view text) {
  return fmt::format("{0:{1}}<{2}>{3}</{2}>\n", "", indent, name, escaped(text));
}

std::string axis_xml(const Axis& axis) {
  const UnitInfo unit = axis_unit(axis.kind(), UnitSystem::metric);
  std::string out = "          <SW-AXIS-CONT>\n" + element(12, "CATEGORY", "STD_AXIS") +
                    element(12, "UNIT-DISPLAY-NAME", unit.symbol) + "            <SW-VALUES-PHYS>";
  for (const double v : axis.points()) out += "<V>" + internal::text_in(v, unit) + "</V>";
  return out + "</SW-VALUES-PHYS>\n          </SW-AXIS-CONT>\n";
}

const char* cdf_unit(TableWhat what) {
  return what == TableWhat::spark ? "deg" : internal::percent_shift(what) == 0 ? "-" : "%";
}

std::string values_xml(TableWhat what, const Surface& s) {
  const int shift = internal::percent_shift(what);
  const UnitInfo yu = axis_unit(s.grid.y.kind(), UnitSystem::metric);
  std::string out = "        <SW-VALUE-CONT>\n" + element(10, "UNIT-DISPLAY-NAME", cdf_unit(what)) +
                    "          <SW-VALUES-PHYS>\n";
  for (std::size_t iy = 0; iy < s.grid.y.size(); ++iy) {
    out += "            <VG><LABEL>" + internal::text_in(s.grid.y[iy], yu) + "</LABEL>";
    for (std::size_t ix = 0; ix < s.grid.x.size(); ++ix) {
      out += "<V>" + internal::shifted(s.node(ix, iy), shift) + "</V>";
    }
    out += "</VG>\n";
  }
  return out + "          </SW-VALUES-PHYS>\n        </SW-VALUE-CONT>\n";
}

const char* long_name(TableWhat what) {
  switch (what) {
    case TableWhat::ve:
      return "Volumetric efficiency";
    case TableWhat::lambda_target:
      return "Lambda to aim at";
    case TableWhat::correction:
      return "Factor on the fuel";
    case TableWhat::spark:
      return "Spark before top dead centre";
  }
  broken_contract("a table of the list", __FILE__, __LINE__);
}

std::string opening(const char* name, const std::string& words, const char* category) {
  return "      <SW-INSTANCE>\n" + element(8, "SHORT-NAME", name) + element(8, "LONG-NAME", words) +
         element(8, "CATEGORY", category);
}

// The unit as CDF has it: "-" where there is none.
std::string plain_values_xml(const ValueUnit& unit, const std::vector<double>& values) {
  const UnitInfo shown = shown_unit(unit, UnitSystem::metric);
  std::string out = "        <SW-VALUE-CONT>\n" +
                    element(10, "UNIT-DISPLAY-NAME", shown.symbol.empty() ? "-" : shown.symbol) +
                    "          <SW-VALUES-PHYS>";
  for (const double v : values) out += "<V>" + internal::text_in(v, shown) + "</V>";
  return out + "</SW-VALUES-PHYS>\n        </SW-VALUE-CONT>\n";
}

std::string instance_xml(CurveWhat what, const Curve& c) {
  return opening(name_of(what), fmt::format("{} over {}", label_of(what), label_of(c.axis.kind())),
                 "CURVE") +
         plain_values_xml(unit_of(what), c.values) + "        <SW-AXIS-CONTS>\n" +
         axis_xml(c.axis) + "        </SW-AXIS-CONTS>\n      </SW-INSTANCE>\n";
}

std::string instance_xml(SettingWhat what, double value) {
  return opening(name_of(what), label_of(what), "VALUE") +
         plain_values_xml(unit_of(what), {value}) + "      </SW-INSTANCE>\n";
}

std::string instance_xml(TableWhat what, const Surface& s) {
  return opening(name_of(what),
                 fmt::format("{} over {} and {}", long_name(what), label_of(s.grid.x.kind()),
                             label_of(s.grid.y.kind())),
                 "MAP") +
         values_xml(what, s) + "        <SW-AXIS-CONTS>\n" + axis_xml(s.grid.x) +
         axis_xml(s.grid.y) + "        </SW-AXIS-CONTS>\n      </SW-INSTANCE>\n";
}

}  // namespace

std::string write_cdf(const Calibration& calibration, std::optional<What> only) {
  std::string out =
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
      "<!DOCTYPE MSRSW PUBLIC \"-//ASAM//DTD CALIBRATION DATA "
      "FORMAT:V2.0.0:LAI:IAI:XML:CDF200.XSD//EN\" \"cdf_v2.0.0.sl.dtd\">\n"
      "<MSRSW>\n" +
      element(2, "SHORT-NAME", "fuelwright") + element(2, "CATEGORY", "CDF20") +
      "  <SW-SYSTEMS>\n  <SW-SYSTEM>\n" + element(4, "SHORT-NAME", "engine") +
      "    <SW-INSTANCE-SPEC>\n    <SW-INSTANCE-TREE>\n" + element(6, "SHORT-NAME", "tables") +
      element(6, "CATEGORY", "NO_VCD");
  const auto add = [&](const auto& parts) {
    for (const auto& [what, part] : parts) {
      if (!only || *only == What(what)) out += instance_xml(what, part);
    }
  };
  add(calibration.tables);
  add(calibration.curves);
  add(calibration.settings);
  return out +
         "    </SW-INSTANCE-TREE>\n    </SW-INSTANCE-SPEC>\n  </SW-SYSTEM>\n  </SW-SYSTEMS>\n"
         "</MSRSW>\n";
}

}  // namespace fuelwright::car
