// Package clock tells which console frame each captured picture is.
package clock
