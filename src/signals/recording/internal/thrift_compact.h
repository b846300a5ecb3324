/// Thrift's compact protocol, the part that Parquet's page headers and footer need (Apache Thrift,
/// "Thrift Compact protocol encoding").
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace fuelwright::signals {

/// Writes one struct: fields by rising number, each written only where it is called.
///
///   ThriftWriter w;
///   w.i32(1, 2);
///   w.begin_list(4, 2, ThriftWriter::kStruct);
///   for (...) { w.begin_struct(); ...; w.end_struct(); }
///   std::string bytes = w.finish();
class ThriftWriter {
 public:
  static constexpr std::uint8_t kI32 = 5, kBinary = 8, kStruct = 12;

  void boolean(int field, bool value);
  void i16(int field, std::int16_t value);
  void i32(int field, std::int32_t value);
  void i64(int field, std::int64_t value);
  void text(int field, std::string_view bytes);
  /// A struct as a field; its fields follow, then end_struct().
  void begin_struct(int field);
  /// A struct as the next element of a list.
  void begin_struct();
  void end_struct();
  /// `size` elements of one type follow: begin_struct(), element() or element_text().
  void begin_list(int field, std::size_t size, std::uint8_t type);
  void element(std::int32_t value);
  void element_text(std::string_view bytes);
  /// Closes the outermost struct and gives its bytes.
  std::string finish();

 private:
  void header(int field, std::uint8_t type);
  void varint(std::uint64_t value);
  void zigzag(std::int64_t value);

  std::string out_;
  std::vector<int> last_{0};  ///< number of the last field, per open struct
};

}  // namespace fuelwright::signals
